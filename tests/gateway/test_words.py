"""Dates, times, zones and file names."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.gateway.board.frame import Frame
from planner.gateway.board.words import (
    clock,
    day_words,
    day_words_long,
    short_names,
    slugs,
    zone_words,
)


def test_a_date_is_said_with_its_day_of_the_week() -> None:
    """1 January 2000 was a Saturday; 2000 had a 29 February (Gregorian rule)."""
    first = date(2000, 1, 1)
    assert day_words(0, first) == "Sat 1 Jan"
    assert day_words_long(59, first) == "Tue 29 Feb 2000"


def test_times_run_on_past_midnight() -> None:
    assert clock(1440 * 3 + 545, 3) == "09:05"
    assert clock(1440 * 4 + 10, 3) == "24:10"


@pytest.mark.parametrize(
    ("zone", "day", "said"),
    [
        ("Europe/Lisbon", 0, "Europe/Lisbon, UTC+00:00"),
        ("Europe/Lisbon", 30, "Europe/Lisbon, UTC+01:00"),
        ("America/St_Johns", 0, "America/St_Johns, UTC-02:30"),
        ("Asia/Kathmandu", 0, "Asia/Kathmandu, UTC+05:45"),
    ],
)
def test_a_zone_is_said_with_the_offset_of_that_day(zone: str, day: int, said: str) -> None:
    """Europe changes on the last Sunday of March, North America on the second (from memory)."""
    assert zone_words(zone, day, date(2027, 3, 15)) == said


def test_names_lose_only_whole_words_that_all_share() -> None:
    assert short_names(["mill-1", "mill-2"]) == {"mill-1": "1", "mill-2": "2"}
    assert short_names(["mill1", "mill2"]) == {"mill1": "mill1", "mill2": "mill2"}
    assert short_names(["mill-"]) == {"mill-": "mill-"}
    assert short_names(["a-", "a-b"]) == {"a-": "a-", "a-b": "b"}
    assert short_names([]) == {}


@given(st.lists(st.text(max_size=12), unique=True, max_size=8))
def test_file_names_are_safe_and_differ(ids: list[str]) -> None:
    names = slugs(ids)
    assert list(names) == ids
    assert len(set(names.values())) == len(ids)
    assert all(
        name and set(name) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
        for name in names.values()
    )


def test_a_frame_runs_from_quarter_to_quarter_and_cuts_what_lies_outside() -> None:
    frame = Frame.around([551, 1021])
    assert (frame.start, frame.end) == (540 + 0, 1035)
    assert frame.hours() == [540, 600, 660, 720, 780, 840, 900, 960, 1020]
    assert (frame.at(0), frame.at(2000)) == ("0.000%", "100.000%")
    assert frame.wide(0, 2000) == "100.000%"
    assert frame.wide(2000, 3000) == "0.000%"
