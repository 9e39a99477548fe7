"""The requests list and one request's page."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils.html import escape
from pytest_django import DjangoAssertNumQueries

from planner.web.requests import VIEWS
from sites.models import Request, RequestSite, Role, Subject
from sites.selectors.backlog import AGES, DUES
from sites.selectors.standing import requests_standing
from sites.services.holds import requests_hold
from tests.sites.build import DAY, World
from tests.web.lived import NOW

LIST = 10
"""Queries: session, person, choices of two filters, ranking, pace (2), rows, places, sites."""

TIMELINE = 21
"""Queries of one request's page: nine of them for the timeline."""


def found(client: Client, query: str) -> list[str]:
    """The references that a list shows, in order."""
    answer = client.get(f"/requests/?{query}")
    assert answer.status_code == 200
    return [line.request.reference for line in answer.context["lines"]]


def test_the_list_starts_with_who_is_late(desk: Client) -> None:
    assert found(desk, "")[0] == "late"
    answer = desk.get("/requests/")
    assert answer.context["lines"][0].late == "late"
    assert answer.context["lines"][0].request.slack == timedelta(days=-1)


@pytest.mark.parametrize(
    ("query", "expected"),
    [
        ("standing=booked", {"booked", "back-again-2"}),
        ("standing=accepted", {f"past-{n}" for n in range(6)}),
        ("rework=yes", {"back-again-2"}),
        ("standing=rework", {"back-again"}),
        ("returned=unread", {"back-unread"}),
        ("returned=to-ask", {"back-told"}),
        ("returned=booked", {"back-again-2"}),
        ("returned=to-contact", set()),
        ("due=past", {"late"}),
        ("age=over-40", {"late"}),
        ("q=back-un", {"back-unread"}),
        ("q=s-free", set()),  # what a programme calls a person is found by form
        ("site=site-1&standing=arrived", {"arrived"}),
        ("programme=p-one&standing=sent", {"sent"}),
        ("missed_from=2026-03-02&missed_to=2026-03-02", {"gone"}),
        ("image_from=2026-02-26", {"back-unread", "back-told", "back-again"}),
        ("received_from=2026-01-01&received_to=2026-01-01", {"late"}),
    ],
)
def test_a_filter_in_the_address_holds(desk: Client, query: str, expected: set[str]) -> None:
    assert set(found(desk, query)) == expected


@pytest.mark.parametrize("query", [query for _, query in VIEWS])
def test_a_view_that_is_often_asked_for_has_no_refused_filter(desk: Client, query: str) -> None:
    answer = desk.get(f"/requests/?{query}")
    assert not answer.context["filters"].errors
    assert f'href="/requests/?{escape(query)}"' in answer.content.decode()
    expected = {
        "due=past": {"late"},
        "returned=unread": {"back-unread"},
        "standing=captured&sort=received": set(),
        "standing=on_hold": set(),
        "returned=to-contact": set(),
        "standing=unplaced&due=week-1": {"back-told"},
    }
    assert set(found(desk, query)) == expected[query]


def test_needs_are_asked_for_by_who_serves_people_alone(here: World, client: Client) -> None:
    for name, field in (("free", "needs_access"), ("booked", "needs_longer")):
        Subject.objects.filter(requests__reference=name).update(**{field: True})
    for role in Role:
        client.force_login(here.users[role])
        page = client.get("/requests/?standing=all")
        serves = role not in (Role.MANAGER, Role.AUDITOR)
        assert ("a longer session" in page.content.decode()) == serves, role
        answer = client.get("/requests/?standing=all&needs=longer")
        assert ("needs" in answer.context["filters"].errors) != serves, role
        if serves:
            names = {line.request.reference for line in answer.context["lines"]}
            assert names == {"booked"}, role
        else:
            assert answer.context["total"] == page.context["total"]
    client.force_login(here.desk)
    assert set(found(client, "needs=access&standing=all")) == {"free"}


def test_every_order_goes_both_ways(desk: Client) -> None:
    for key in ("slack", "due", "received", "reference"):
        up = desk.get(f"/requests/?sort={key}").context["lines"]
        down = desk.get(f"/requests/?sort=-{key}").context["lines"]
        values = [getattr(line.request, key) for line in up]
        assert values == sorted(values)
        assert [getattr(line.request, key) for line in down] == sorted(values, reverse=True)


def test_a_wrong_filter_is_named_and_the_rest_holds(desk: Client) -> None:
    answer = desk.get("/requests/?standing=asleep&rework=yes&page=999")
    assert "A filter is not used" in answer.content.decode()
    assert [line.request.reference for line in answer.context["lines"]] == ["back-again-2"]


def test_the_fragment_is_the_pages_own_part(desk: Client) -> None:
    page = desk.get("/requests/?rework=yes").content.decode()
    part = desk.get("/requests/?rework=yes", headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert bare(part.content.decode()).strip() in bare(page)
    assert "HX-Request" in part["Vary"]
    again = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert "<html" in desk.get("/requests/", headers=again).content.decode()


def bare(text: str) -> str:
    """A page without its tokens, which are masked anew in each answer."""
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", text)


def test_where_requests_stand_is_the_same_looked_up_or_gathered(here: World) -> None:
    """The list gathers what happened to all at once, a page looks it up for one."""
    requests_hold(
        requests=Request.objects.filter(reference="late"), why="away", by=here.desk, at=NOW
    )
    for days in (0, 200):  # by then some have expired
        alone, gathered = (
            dict(
                requests_standing(
                    today=DAY + timedelta(days=days), requests=Request.objects.all(), many=many
                ).values_list("reference", "standing")
            )
            for many in (False, True)
        )
        assert alone == gathered
        assert len(set(alone.values())) > 7


def test_many_requests_come_by_pages_with_the_same_queries(
    desk: Client, here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(LIST):
        desk.get("/requests/")
    many(here, 120)
    with django_assert_num_queries(LIST):
        answer = desk.get("/requests/?page=2")
    assert len(answer.context["lines"]) == 50
    seen = [name for page in (1, 2, 3) for name in found(desk, f"page={page}")]
    assert len(seen) == len(set(seen)) == answer.context["total"] == 129


def many(here: World, count: int) -> None:
    """More requests to book, all due on one day."""
    terms = Request.objects.filter(reference="free").get().terms
    people = Subject.objects.bulk_create(Subject(reference=f"m-{n}") for n in range(count))
    made = Request.objects.bulk_create(
        Request(
            reference=f"many-{n}",
            subject=person,
            terms=terms,
            profile=here.profile,
            received=DAY,
            release=DAY,
            due=DAY + timedelta(days=9),
        )
        for n, person in enumerate(people)
    )
    RequestSite.objects.bulk_create(RequestSite(request=row, site=here.site) for row in made)


def test_the_timeline_tells_what_happened_in_order(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(TIMELINE):
        answer = desk.get("/requests/back-again/")
    lines: list[Any] = answer.context["happenings"]
    assert [line.what for line in lines] == [
        "received",
        "booked",
        "arrived",
        "session started",
        "identity check done",
        "session ended",
        "sent on",
        "returned: image",
        "response read",
        "subject contacted",
    ]
    assert "1 capture, 1 retake" in lines[5].detail
    text = answer.content.decode()
    assert "Follow the rework request below." in text
    assert "/requests/back-again-2/" in text


def test_age_and_due_bands_cover_every_request_once(here: World, desk: Client) -> None:
    everybody = set(found(desk, ""))
    for name, bands in (("age", AGES), ("due", DUES)):
        parts = [set(found(desk, f"{name}={band.key}")) for band in bands]
        assert set.union(*parts) == everybody
        assert sum(len(part) for part in parts) == len(everybody)
