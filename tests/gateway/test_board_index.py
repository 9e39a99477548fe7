"""The first page counts what the plan holds, and names those left out."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from planner.engine.network import Closure
from planner.gateway.board.book import open_book
from planner.gateway.board.room import common, load_of
from tests.gateway.reader import read_page
from tests.gateway.small import SEVENTEEN, small_network, small_plan

spans = st.lists(
    st.tuples(st.integers(0, 60), st.integers(1, 30)).map(lambda pair: (pair[0], sum(pair))),
    max_size=5,
)


def test_the_room_is_the_smaller_of_stations_and_people() -> None:
    """Derived by hand from rule 8.

    Stations: 2 · 480 - 60 closed - 30 care = 870. People: ada 480 - 30 break - 30 care = 420, bo
    360; together 780.
    """
    load = load_of(open_book(small_network(), small_plan()), "harbour", 0)
    assert (load.booked, load.planned, load.room) == (3, 18 + 18 + 20, 780)


def test_a_site_without_technicians_has_no_room() -> None:
    load = load_of(open_book(small_network(), small_plan()), "north", 1)
    assert (load.room, load.used) == (0, None)


def test_only_closed_time_inside_opening_hours_takes_room() -> None:
    network = small_network()
    late = Closure(SEVENTEEN - 10, SEVENTEEN + 500, "power")
    first, second, third = network.stations
    stations = (replace(first, closed=(late,)), replace(second, closed=(late, late)), third)
    lone = replace(network, stations=stations, technicians=network.technicians)
    load = load_of(open_book(lone, replace(small_plan(), breaks=(), care=())), "harbour", 0)
    assert load.room == min(2 * (480 - 10), 480 + 360)


@given(spans, spans)
def test_common_minutes_are_those_in_both(
    left: list[tuple[int, int]], right: list[tuple[int, int]]
) -> None:
    """Against sets of minutes."""
    apart, reach = [], 0
    for start, end in sorted(left):
        if start >= reach:
            apart.append((start, end))
            reach = end
    in_left = {minute for start, end in apart for minute in range(start, end)}
    in_right = {minute for start, end in right for minute in range(start, end)}
    assert common(apart, right) == len(in_left & in_right)


def test_the_table_shows_sessions_and_share_of_room(board: Path) -> None:
    """56 of 780 minutes on the first day; nobody works on the second."""
    page, _ = read_page(board / "index.html")
    table = page.classed("table", "load")[0]
    rows = [[tag.text for tag in row.find("td")] for row in table.find("tr")[1:]]
    assert rows == [["37%", "0no room", "37%"], ["closed", "0no room", "0-"], ["3", "0", "3"]]


def test_those_left_out_are_counted_by_reason_with_the_remedy(board: Path) -> None:
    page, _ = read_page(board / "index.html")
    row = page.find("section", **{"aria-labelledby": "causes"})[0].find("tr")[1]
    assert [tag.text for tag in (*row.find("th"), *row.find("td"))] == [
        "no technician",
        "1",
        "add a shift",
    ]


def test_each_person_left_out_is_listed_with_sites_reason_and_remedy(board: Path) -> None:
    page, _ = read_page(board / "not-booked.html")
    row = page.find("tr")[1]
    assert [tag.text for tag in (*row.find("th"), *row.find("td"))] == [
        "=r4",
        "Wed 10 Mar",
        "",
        "North Gate, Harbour Street",
        "no technician",
        "nobody works at North Gate",
        "add a shift",
    ]
