"""Finding a person from the list of requests: by form alone, and named nowhere afterwards."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.test import Client

from planner.web.filters import PEOPLE
from sites.models import AuditEntry, ExternalReference, Request, Role, Site, Subject, User
from tests.sites.build import World

PERSON = {
    "family_name": "Tavorenplanted",
    "phone": "+00 555 0147 0099",
    "email": "planted@example.invalid",
    "reference": "file-planted-7",
}


@pytest.fixture
def named(here: World) -> Subject:
    """The subject of ``free`` under planted names, whose request the programme calls its own."""
    request = Request.objects.get(reference="free")
    for name, value in PERSON.items():
        setattr(request.subject, name, value)
    request.subject.save()
    ExternalReference.objects.create(
        request=request, programme=here.programme, text="case planted 9"
    )
    return request.subject


def find(client: Client, words: str) -> Any:
    """The list that the form leads to."""
    answer = client.post("/people/find/", {"words": words}, follow=True)
    assert answer.status_code == 200
    return answer


def shown(answer: Any) -> set[str]:
    """References of the list."""
    return {line.request.reference for line in answer.context["lines"]}


@pytest.mark.parametrize("words", [*PERSON.values(), " TAVÓRENplanted ", "Case planted 9"])
def test_a_person_is_found_and_the_address_names_nobody(
    desk: Client, named: Subject, words: str
) -> None:
    answer = find(desk, words)
    assert answer.redirect_chain == [(f"/requests/?standing=all&person={named.pk}", 302)]
    assert shown(answer) == {"free"}
    text = answer.content.decode()
    assert "Only those that belong to the person you asked for." in text
    assert "planted" not in text.lower()
    assert f'name="person" value="{named.pk}"' in text  # another filter keeps it


@pytest.mark.parametrize("words", ["Nobodyplanted", "   ", "planted" * 30, "555", "Tavoren"])
def test_what_finds_nobody_is_not_repeated(desk: Client, named: Subject, words: str) -> None:
    answer = find(desk, words)
    assert answer.redirect_chain == [("/requests/", 302)]
    text = answer.content.decode()
    assert "<b>Mind.</b> Nobody" in text
    assert "Done." not in text
    assert "planted" not in text
    assert len(shown(answer)) > 5


def test_what_was_typed_is_in_no_log_and_no_audit_entry(
    desk: Client, named: Subject, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level("INFO")
    for words in (*PERSON.values(), "Elseplanted"):
        find(desk, words)
    assert "answered" in caplog.text
    assert "planted" not in caplog.text.lower()
    entries = AuditEntry.objects.values_list("noun", "changes", "actor", "request")
    assert [entry for entry in entries if "planted" in json.dumps(entry).lower()] == []


def test_a_person_of_another_site_is_not_found(here: World, client: Client, named: Subject) -> None:
    user = User.objects.create(username="elsewhere", role=Role.COORDINATOR)
    user.covers.add(Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna"))
    client.force_login(user)
    for words in (*PERSON.values(), "case planted 9"):
        answer = find(client, words)
        assert answer.redirect_chain == [("/requests/", 302)]
    assert shown(client.get(f"/requests/?standing=all&person={named.pk}")) == set()


def test_many_of_one_name_are_shown_up_to_a_limit_and_counted(here: World, desk: Client) -> None:
    people = [Subject(reference=f"n-{n}", family_name="Common") for n in range(PEOPLE + 2)]
    for person in people:
        person.set_keys()
    made = Subject.objects.bulk_create(people)
    first = Request.objects.get(reference="free")
    for n, person in enumerate(made):
        here.request(f"common-{n}", subject=person, received=first.received)
    answer = find(desk, "common")
    assert answer.context["total"] == PEOPLE
    text = answer.content.decode()
    assert (
        f"<b>Mind.</b> {PEOPLE + 2} people fit, and the list shows the requests of {PEOPLE}" in text
    )
    assert f"one of the {PEOPLE} people you asked for" in text


@pytest.mark.parametrize("person", ["x", "1,", "1;2", "-1", "1" * 13, "1,2," * 50 + "3"])
def test_a_person_that_no_search_gives_is_no_filter(desk: Client, person: str) -> None:
    answer = desk.get("/requests/", {"person": person})
    assert "A filter is not used" in answer.content.decode()
    assert "person: find the person again" in answer.content.decode()


def test_the_form_needs_its_token(here: World) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(here.users[Role.COORDINATOR])
    assert strict.post("/people/find/", {"words": "Tavoren"}).status_code == 403


def test_a_sign_in_on_the_way_leads_to_the_list(desk: Client) -> None:
    assert desk.get("/people/find/")["Location"] == "/requests/"
