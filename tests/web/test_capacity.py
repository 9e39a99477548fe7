"""The overview's figures against the requests that their links open, and the outlook."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client
from pytest_django import DjangoAssertNumQueries

from planner.gateway.outlook import Work, shortfall
from sites.models import Shift
from tests.sites.build import DAY, World


def links(client: Client, page: str) -> list[tuple[str, int]]:
    """Every link of a page to a list of requests whose words are a count."""
    text = unescape(client.get(page).content.decode())
    return [
        (href, int(count)) for href, count in re.findall(r'href="(/requests/\?[^"]+)">(\d+)<', text)
    ]


def test_every_count_opens_as_many_requests(desk: Client) -> None:
    found = links(desk, "/capacity/")
    assert len(found) > 12
    for href, count in found:
        assert desk.get(href).context["total"] == count, href


def test_the_six_figures_by_hand(desk: Client) -> None:
    """Of 9 answered first sets 6 were accepted, 3 came back; 10 sessions ended, none rework."""
    answer = desk.get("/capacity/")
    figures = {each.name: each for each in answer.context["figures"]}
    assert figures["Backlog"].n == 9
    passed = figures["First-pass yield"].share
    assert (passed.hits, passed.n) == (6, 9)
    back = figures["Image returns"].share
    assert (back.hits, back.n) == (3, 9)
    again = figures["Rework share"].share
    assert (again.hits, again.n) == (0, 10)
    assert figures["No-shows"].share.n == 10
    for figure in figures.values():
        assert figure.meaning
        assert figure.period


def test_a_figures_link_opens_what_it_counts(desk: Client) -> None:
    figures = {each.name: each for each in desk.get("/capacity/").context["figures"]}

    def behind(name: str) -> int:
        values = {key: str(value) for key, value in figures[name].query.items()}
        return int(desk.get("/requests/", values).context["total"])

    assert behind("Backlog") == 9
    assert behind("First-pass yield") == 9
    assert behind("Image returns") == 3
    assert behind("Rework share") == 0
    assert behind("Cycle time") == figures["Cycle time"].n


def test_the_overview_asks_a_fixed_number_of_queries(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(27):
        desk.get("/capacity/")


def test_the_outlook_counts_room_and_what_falls_due(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(19):
        answer = desk.get("/capacity/outlook/")
    week = answer.context["outlook"].lines[0].weeks[0]
    assert week.first == DAY
    assert week.booked == 60
    assert week.due_sessions == 2
    assert week.room == 5 * 1200 - 30 - 120


def test_what_falls_due_opens_as_many_requests(desk: Client) -> None:
    found = links(desk, "/capacity/outlook/")
    assert len(found) == 2
    for href, count in found:
        assert desk.get(href).context["total"] == count, href


def test_a_site_without_a_roster_is_short_and_named(desk: Client, here: World) -> None:
    Shift.objects.all().delete()
    answer = desk.get("/capacity/outlook/")
    text = answer.content.decode()
    assert [line.site.code for line in answer.context["short"]] == ["site-1"]
    assert "minutes too few" in text
    assert "nobody is on the roster" in text


@pytest.mark.parametrize(
    ("work", "free", "expected"),
    [
        ([], [10, 10], [0, 0]),
        ([Work(0, 0, 15)], [10, 10], [5, 0]),
        ([Work(0, 1, 15)], [10, 10], [0, 0]),
        ([Work(1, 1, 15)], [10, 10], [0, 5]),
        ([Work(0, 1, 15), Work(1, 1, 8)], [10, 10], [0, 3]),
        ([Work(1, 2, 25)], [100, 10, 10], [0, 0, 5]),
    ],
)
def test_the_shortfall_by_hand(work: list[Work], free: list[float], expected: list[float]) -> None:
    assert shortfall(work, free)[: len(expected)] == pytest.approx(expected, abs=1e-9)
