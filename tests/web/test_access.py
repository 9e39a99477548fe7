"""Who may do what, asked of every address: owner, colleague, stranger and nobody."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.contrib import admin
from django.http import HttpResponse
from django.test import Client
from django.urls import path, resolve

from planner.web.access import Page
from sites.admin_site import Tables
from sites.models import Request, Role, Site, Subject, User
from tests.sites.build import DAY, World
from tests.web import walk
from tests.web.asks import ASKS, LETTERS, PUBLIC, SCOPED, Ask
from tests.web.pages import PAGES

PERSONAL = {
    "given_name": "Ilmiplanted",
    "family_name": "Tavorenplanted",
    "phone": "+00 555 0147 0099",
    "email": "planted@example.invalid",
}


class Misspelt(Page):
    """A page whose rule is in no table."""

    rule = "requests.seen"


def answer(client: Client, ask: Ask) -> Any:
    """What the server answers."""
    send = getattr(client, ask.method)
    return send(ask.path, ask.data) if ask.data else send(ask.path)


def colleague(letter: str) -> User:
    """The same role at another site."""
    elsewhere, _ = Site.objects.get_or_create(
        code="site-2", defaults={"name": "Site 2", "timezone": "Europe/Vienna"}
    )
    user = User.objects.create(username=f"other-{letter}", role=LETTERS[letter])
    if letter in SCOPED:
        user.covers.add(elsewhere)
    return user


@pytest.mark.parametrize("ask", ASKS, ids=str)
def test_each_role_gets_what_it_may_and_a_sentence_where_not(
    here: World, client: Client, ask: Ask
) -> None:
    for letter, role in LETTERS.items():
        client.force_login(here.users[role])
        found = answer(client, ask)
        assert found.status_code == ask.owner(letter), role
        if found.status_code == 403:
            assert re.search(r"<p class=\"answers\">[A-Z].+ is for an? .+\.</p>", found.text), role


@pytest.mark.parametrize("ask", ASKS, ids=str)
def test_a_colleague_of_another_site_does_not_find_what_is_here(
    here: World, client: Client, ask: Ask
) -> None:
    for letter, role in LETTERS.items():
        client.force_login(colleague(letter))
        assert answer(client, ask).status_code == ask.colleague(letter), role


@pytest.mark.parametrize("ask", ASKS, ids=str)
def test_nobody_is_sent_to_the_door(here: World, client: Client, ask: Ask) -> None:
    found = answer(client, ask)
    assert found.status_code == ask.nobody
    if ask.nobody == 302:
        assert found["Location"] == f"/sign-in/?next={ask.path}"


@pytest.mark.parametrize("ask", ASKS, ids=str)
def test_a_login_that_is_switched_off_is_nobody(here: World, client: Client, ask: Ask) -> None:
    user = here.users[Role.MANAGER]
    client.force_login(user)
    User.objects.filter(pk=user.pk).update(is_active=False)
    assert answer(client, ask).status_code == ask.nobody


def test_every_address_names_a_rule_of_the_table() -> None:
    assert len(list(walk.routes())) > 12
    assert walk.faults() == []
    assert walk.admin_doors() == [admin.site]
    assert isinstance(admin.site, Tables)


def test_a_view_without_a_rule_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    bare = [
        path("a/", lambda request: HttpResponse()),
        path("b/", Page.as_view(template_name="web/404.html")),
        path("c/", Misspelt.as_view()),
    ]
    found = [walk.rule_of(each.callback) for each in bare]
    assert found == ["", "", "requests.seen"]
    monkeypatch.setattr(walk, "routes", lambda: [(str(x.pattern), x.callback) for x in bare])
    assert len(walk.faults()) == 3


def test_every_address_is_asked_of_everybody() -> None:
    """A page that is in no line of `ASKS` is not tested: this fails for it.

    Operations of the API have lines of their own, in `tests/api/operations/`.
    """
    asked = {resolve(ask.path).route for ask in ASKS}
    pages = [(route, view) for route, view in walk.routes() if not hasattr(view, "operations")]
    there = {route for route, _ in pages}
    assert there - asked == PUBLIC
    assert {route for route, view in pages if walk.rule_of(view) is None} == PUBLIC


@pytest.mark.parametrize("letter", LETTERS)
def test_names_and_contact_are_on_no_page_but_for_who_needs_them(
    here: World, client: Client, letter: str
) -> None:
    """Everybody's data is planted; coordinator and administrator see it where they reach people.

    Site lead and technician see the name alone, on the day of the visit.
    """
    for subject in Subject.objects.all():
        for name, value in PERSONAL.items():
            setattr(subject, name, value)
        subject.needs_access = True
        subject.save()
    client.force_login(here.users[LETTERS[letter]])
    expected: dict[str, set[str]] = {}
    if letter in "cx":
        expected["/requests/booked/"] = expected["/requests/free/"] = set(PERSONAL)
        expected["/requests/back-again/"] = set(PERSONAL)
        expected["/notices/booked/1/"] = set(PERSONAL)
        expected["/returned/set/c-back-unread/"] = set(PERSONAL)
    if letter in "lt":
        expected["/requests/booked/"] = {"given_name", "family_name"}
    if letter == "l":
        expected["/notices/booked/1/"] = {"given_name", "family_name"}
    for address in {*PAGES, *(ask.path for ask in ASKS if ask.method == "get")}:
        text = client.get(address).getvalue().decode(errors="replace")
        found = {name for name, value in PERSONAL.items() if value in text}
        assert found == expected.get(address, set()), address
        assert ("accessible station" in text) <= (letter in "cltx"), address


def test_a_name_of_yesterday_or_tomorrow_is_not_shown_on_the_floor(
    here: World, client: Client
) -> None:
    request = Request.objects.get(reference="sent")  # held ten days ago
    for name, value in PERSONAL.items():
        setattr(request.subject, name, value)
    request.subject.save()
    for role in (Role.TECHNICIAN, Role.SITE_LEAD):
        client.force_login(here.users[role])
        text = client.get("/requests/sent/").content.decode()
        assert "The name is shown on the day of the visit" in text
        assert "planted" not in text


def test_people_are_found_by_name_only_by_who_may(here: World, client: Client) -> None:
    subject = Subject.objects.get(requests__reference="free")
    subject.family_name = "Tavoren"
    subject.save()
    for role in Role:
        client.force_login(here.users[role])
        answer = client.post("/people/find/", {"words": "tavoren"}, follow=True)
        may_find = role in (Role.COORDINATOR, Role.ADMINISTRATOR)
        assert answer.status_code == (200 if may_find else 403)
        assert ("Find the person" in client.get("/requests/").content.decode()) == may_find
        found = [line.request.reference for line in answer.context.get("lines", [])]
        assert found == (["free"] if may_find else []), role


def test_a_list_holds_only_what_is_in_view(here: World, client: Client) -> None:
    client.force_login(colleague("c"))
    for address in ("/requests/?standing=all", "/requests/?standing=all&site=site-1"):
        assert client.get(address).context["total"] == 0
    assert "Site 1" not in client.get("/requests/").content.decode()
    figures = {each.name: each for each in client.get("/capacity/").context["figures"]}
    assert [each.n for each in figures.values()] == [0] * 6
    outlook = client.get("/capacity/outlook/").context["outlook"]
    assert [line.site.code for line in outlook.lines] == ["site-2"]
    client.force_login(here.users[Role.TECHNICIAN])
    rows = client.get("/requests/?standing=all").context["lines"]
    names = {line.request.reference for line in rows}
    assert {"booked", "arrived", "gone"} <= names
    assert names.isdisjoint({"free", "late"})


def test_a_technician_opens_own_days_alone(here: World, client: Client) -> None:
    client.force_login(here.users[Role.TECHNICIAN])
    text = client.get("/days/").content.decode()
    assert f"/days/site-1/{DAY}/" in text
    assert "/days/site-1/2026-03-07/" not in text
    answer = client.get("/days/site-1/2026-03-08/")
    assert "not one of yours" in answer.content.decode()


def test_a_fragment_leads_to_the_door_as_a_whole(here: World, client: Client) -> None:
    answer = client.get("/requests/", headers={"HX-Request": "true"})
    assert (answer.status_code, answer["HX-Redirect"]) == (200, "/sign-in/?next=/requests/")


def test_a_scoped_role_without_a_site_sees_nothing(here: World, client: Client) -> None:
    for role in (Role.COORDINATOR, Role.SITE_LEAD):
        here.users[role].covers.clear()
        client.force_login(here.users[role])
        assert client.get("/requests/?standing=all").context["total"] == 0
        assert client.get("/days/site-1/2026-03-02/").status_code == 404
