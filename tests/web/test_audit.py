"""The auditor's page: filters in the address, a part at a time, and the same entries as a file."""

from __future__ import annotations

import csv
import io
import re
from datetime import UTC, datetime
from html import unescape
from typing import Any
from urllib.parse import quote

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from sites.audit.actor import acting, login
from sites.models import AuditEntry, Feature, Role, Subject
from sites.services.appointments import appointment_step
from tests.sites.build import World
from tests.web.pages import COMES_FIRST


@pytest.fixture
def auditor(client: Client, here: World) -> Client:
    """An auditor who is signed in."""
    client.force_login(here.users[Role.AUDITOR])
    return client


def shown(client: Client, query: str = "") -> list[AuditEntry]:
    """The entries that the page shows."""
    return [line.entry for line in client.get(f"/audit/{query}").context["lines"]]


def features(count: int) -> None:
    """So many entries, an id of a request each."""
    for number in range(count):
        with acting(login(1), f"request-{number}"):
            Feature.objects.create(code=f"f-{number}")


def test_it_says_who_did_what_and_when(auditor: Client, here: World) -> None:
    one = here.book(here.request("r-1"), 900)
    with acting(login(here.desk.pk), "this-request"):
        appointment_step(appointment=one, action="cancel", by=here.desk)
    text = " ".join(auditor.get("/audit/?noun=appointment").content.decode().split())
    assert "coordinator</a>" in text
    assert f"appointment {one.pk}</a>" in text
    assert "step: booked → cancelled" in text
    assert "this-request" in text
    assert COMES_FIRST in text
    assert "use it as the programme" in text


@pytest.mark.parametrize("noun", ["appointment", "request"])
def test_a_row_is_found_by_its_code_and_by_its_number(
    auditor: Client, here: World, noun: str
) -> None:
    one = here.book(here.request("r-1"), 900)
    key, code = (one.pk, one.code) if noun == "appointment" else (one.request_id, "r-1")
    for record in (code, key):
        found = shown(auditor, f"?noun={noun}&record={record}")
        assert found
        assert {(entry.noun, entry.key) for entry in found} == {(noun, key)}


def test_who_what_and_the_days_narrow_it(auditor: Client, here: World) -> None:
    with acting(login(here.desk.pk)):
        Feature.objects.create(code="a")
        Feature.objects.filter(code="a").delete()
    with acting("command:demo"):
        Feature.objects.create(code="b")
    assert {entry.what for entry in shown(auditor, f"?who=login:{here.desk.pk}")} == {
        "added",
        "removed",
    }
    by_command = shown(auditor, "?noun=feature&who=command")
    assert [entry.actor for entry in by_command] == ["command:demo"]
    removed = shown(auditor, "?noun=feature&done=removed")
    assert [entry.changes for entry in removed] == [{"code": "a"}]
    today = datetime.now(UTC).date()
    assert shown(auditor, f"?noun=feature&first={today}&last={today}")
    assert not shown(auditor, "?first=2020-01-01&last=2020-12-31")


def test_a_filter_that_makes_no_sense_is_named_and_shows_nothing_else(auditor: Client) -> None:
    answer = auditor.get("/audit/?record=r-1")
    assert "Which: choose what it is as well" in answer.content.decode()
    assert answer.context["lines"] == []
    answer = auditor.get("/audit/?noun=request&record=nobodys")
    assert "no code of a row that is there" in answer.content.decode()
    assert "A filter is not used" in auditor.get("/audit/?first=soon").content.decode()
    assert "cut short" in auditor.get("/audit/?after=soon").content.decode()
    file: Any = auditor.get("/audit/csv/?record=r-1")
    assert len(list(file.streaming_content)) == 1


def test_the_parts_hold_every_entry_once(auditor: Client) -> None:
    features(120)
    seen: list[int] = []
    address, parts = "/audit/?noun=feature", 0
    while address:
        answer = auditor.get(address)
        seen += [line.entry.pk for line in answer.context["lines"]]
        older = answer.context["older"]
        found = re.search(r'rel="next" href="([^"]+)"', answer.content.decode())
        assert bool(found) == bool(older)
        address = f"/audit/{found.group(1).replace('&amp;', '&')}" if found else ""
        parts += 1
    assert parts == 3
    rows = AuditEntry.objects.filter(noun="feature").order_by("-at", "-pk")
    assert seen == list(rows.values_list("pk", flat=True))


def test_entries_of_one_instant_are_neither_lost_nor_shown_twice(auditor: Client) -> None:
    Feature.objects.bulk_create(Feature(code=f"f-{number}") for number in range(60))
    first = auditor.get("/audit/?noun=feature")
    older = auditor.get("/audit/", {"noun": "feature", "after": first.context["older"]})
    keys = [line.entry.key for page in (first, older) for line in page.context["lines"]]
    assert sorted(keys) == sorted(Feature.objects.values_list("pk", flat=True))


def test_the_same_queries_for_many_entries_as_for_few(auditor: Client) -> None:
    features(3)
    with CaptureQueriesContext(
        connection,
    ) as few:
        auditor.get("/audit/?noun=feature")
    features_more(300)
    with CaptureQueriesContext(connection) as many:
        auditor.get("/audit/?noun=feature")
    assert len(many) == len(few)


def features_more(count: int) -> None:
    """More entries, of as many logins."""
    for number in range(count):
        with acting(login(number)):
            Feature.objects.create(code=f"more-{number}")


def test_the_file_holds_all_entries_of_the_view(auditor: Client, here: World) -> None:
    features(70)
    with acting(login(here.desk.pk), "this-request"):
        Feature.objects.filter(code="f-1").update(code="g-1", name="another")
    answer: Any = auditor.get("/audit/csv/?noun=feature")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    assert answer["Cache-Control"] == "private, no-store"
    rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
    assert len(rows) == 71
    assert rows[0]["login"] == "coordinator"
    assert rows[0]["changes"] == '{"code": ["f-1", "g-1"], "name": []}'
    assert rows[0]["request"] == "this-request"
    assert datetime.fromisoformat(rows[0]["at_utc"]).tzinfo is not None


def test_a_login_that_is_gone_is_still_named_by_its_number(auditor: Client, here: World) -> None:
    with acting(login(99_999)):
        Feature.objects.create(code="a")
    assert "login 99999, no longer there" in auditor.get("/audit/?noun=feature").content.decode()


def test_the_page_shows_no_name_of_a_subject(auditor: Client) -> None:
    subject = Subject.objects.create(reference="s-p", family_name="Tavorenplanted")
    subject.family_name = "Tavorinplanted"
    subject.save()
    subject.delete()
    text = auditor.get("/audit/?noun=subject").content.decode()
    assert "changed, not kept" in text
    assert "planted" not in text


def test_who_opens_the_set_up_finds_the_audit_if_it_is_for_them(
    here: World, client: Client
) -> None:
    for role in Role:
        client.force_login(here.users[role])
        has = "/audit/" in client.get("/set-up/").content.decode()
        assert has == (role in {Role.AUDITOR, Role.ADMINISTRATOR})


@pytest.mark.parametrize("actor", ["login:99999", "command:demo", "task:plan_run", "nobody:page"])
def test_the_link_at_each_name_shows_what_that_one_did(auditor: Client, actor: str) -> None:
    with acting(actor):
        Feature.objects.create(code="a")
    with acting("command:another"):
        Feature.objects.create(code="b")
    text = auditor.get("/audit/?noun=feature").content.decode()
    found = re.search(rf'href="([^"]*who={quote(actor, safe="")}[^"]*)"', text)
    assert found
    answer = auditor.get(f"/audit/{unescape(found.group(1))}")
    assert "A filter is not used" not in answer.content.decode()
    assert [line.entry.actor for line in answer.context["lines"]] == [actor]


def test_a_who_that_is_no_actor_is_refused(auditor: Client) -> None:
    for who in ("login:", "somebody:1", "command:a b"):
        assert "A filter is not used" in auditor.get("/audit/", {"who": who}).content.decode()
