"""The day board drawn from the record."""

from __future__ import annotations

from datetime import timedelta

from django.test import Client
from pytest_django import DjangoAssertNumQueries

from tests.sites.build import DAY, World

TODAY = f"/days/site-1/{DAY}/"


def test_the_board_shows_sessions_care_closures_and_now(desk: Client) -> None:
    answer = desk.get(TODAY)
    page = answer.context["page"]
    assert [(line.request, line.told) for line in page.entries] == [
        ("arrived", "10:30"),
        ("back-again-2", "11:00"),
        ("booked", "11:30"),
    ]
    notes = {line.request: line.notes for line in page.entries}
    assert notes == {"arrived": "arrived", "back-again-2": "rework", "booked": "over the promise"}
    assert [line.p_wait for line in page.entries] == ["-", "4.0%", "13.0%"]
    assert [other.what for other in page.others] == [
        "scanner care cleaning st-1",
        "closed: platen cracked",
    ]
    assert page.now is not None
    text = answer.content.decode()
    assert 'class="now"' in text
    assert "Europe/Vienna, UTC+01:00" in text
    assert [row.request.reference for row in answer.context["gone"]] == ["gone"]


def test_another_day_has_no_now_line_and_a_closed_day_says_so(desk: Client) -> None:
    assert desk.get("/days/site-1/2026-03-03/").context["page"].now is None
    text = desk.get("/days/site-1/2026-03-08/").content.decode()
    assert "Open closed" not in text
    assert "Nobody is on shift here" in text
    assert "No session is planned here" in text


def test_queries_do_not_grow_with_the_day(
    desk: Client, here: World, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    desk.get(TODAY)
    with django_assert_num_queries(DAY_QUERIES):
        desk.get(TODAY)
    for number in range(8):
        here.book(here.request(f"more-{number}"), 840 + 20 * number)
    with django_assert_num_queries(DAY_QUERIES):
        desk.get(TODAY)


DAY_QUERIES = 20


def test_the_table_of_days_counts_sessions_and_room(
    desk: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    with django_assert_num_queries(13):
        answer = desk.get("/days/")
    cells = answer.context["rows"][0].cells
    first = cells[0].room
    assert (first.sessions, first.booked) == (3, 60)
    assert first.stations == 2 * 600 - 30 - 120
    assert first.technicians == 2 * 600 - 30
    assert [cell.closed for cell in cells[4:7]] == [False, True, True]
    later = desk.get(f"/days/?from={DAY + timedelta(days=1)}")
    assert later.context["days"][0] == DAY + timedelta(days=1)
