"""A day's page says what the plan says, where the plan says it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.gateway.board import write_board
from tests.gateway.reader import Tag, read_page
from tests.gateway.small import small_network, small_plan


@pytest.fixture
def day(board: Path) -> Tag:
    return read_page(board / "days/harbour_2027-03-09.html")[0]


def cells(row: Tag) -> dict[str, str]:
    return {tag.attributes["data-label"]: tag.text for tag in (*row.find("th"), *row.find("td"))}


def test_the_list_has_a_line_per_session_in_the_order_of_told_time(day: Tag) -> None:
    lines = [cells(day.find("tr", id=f"line-{place}")[0]) for place in (1, 2, 3)]
    assert lines[1] == {
        "told": "09:15",
        "start": "09:18",
        "end planned": "09:36",
        "likely end": "09:30 to 09:43",
        "station": "H1",
        "technician": "ada",
        "request": "r2",
        "profile": "usual",
        "minutes": "18",
        "wait over 15 min": "7.3%",
        "notes": "rework",
    }
    assert [line["request"] for line in lines] == ["r1", "r2", "r3"]
    assert lines[2]["notes"] == "fixed, over the promise"
    assert lines[2]["likely end"] == "-"


def test_bars_lie_at_their_planned_minutes(day: Tag) -> None:
    """The frame runs 09:00 to 17:00, so a minute is 1 / 480 of the width."""
    station = day.find("svg", **{"aria-label": "Station H1, 2 sessions"})[0]
    bars = [bar.find("svg")[0].attributes for bar in station.find("a")]
    assert [(bar["x"], bar["width"]) for bar in bars] == [
        ("0.000%", f"{100 * 18 / 480:.3f}%"),
        (f"{100 * 18 / 480:.3f}%", f"{100 * 18 / 480:.3f}%"),
    ]
    tails = [tag.find("line")[0].attributes for tag in station.classed("g", "tail")]
    assert [(tail["x1"], tail["x2"]) for tail in tails] == [
        (f"{100 * 12 / 480:.3f}%", f"{100 * 23 / 480:.3f}%"),
        (f"{100 * 30 / 480:.3f}%", f"{100 * 43 / 480:.3f}%"),
    ]


def test_every_bar_names_its_times_people_and_chance(day: Tag) -> None:
    links = day.find("a", href="#line-2")
    assert len(links) == 2  # once at the station, once at the technician
    assert links[0].attributes["aria-label"] == (
        "told 09:15, planned 09:18 to 09:36, request r2, station H1, technician ada, "
        "chance of a wait over 15 min 7.3%, likely end 09:30 to 09:43, rework"
    )


def test_care_closures_and_breaks_are_hatched_or_dashed_and_said_in_words(day: Tag) -> None:
    said = {
        kind: {tag.attributes["aria-label"] for tag in day.classed("svg", kind)}
        for kind in ("care", "closed", "break", "shift")
    }
    assert said == {
        "care": {"care clean-H1, 13:00 to 13:30"},
        "closed": {"calibration, 09:00 to 10:00"},
        "break": {"break, 12:00 to 12:30"},
        "shift": {"on shift, 09:00 to 17:00", "on shift, 10:00 to 16:00"},
    }
    others = day.find("section", **{"aria-labelledby": "others"})[0].find("tbody")[0]
    lines = [[tag.text for tag in (*row.find("th"), *row.find("td"))] for row in others.find("tr")]
    assert lines == [
        ["09:00", "10:00", "closed: calibration", "H2", ""],
        ["12:00", "12:30", "break", "", "ada"],
        ["13:00", "13:30", "scanner care clean-H1", "H1", "ada"],
    ]


def test_the_zone_stands_where_times_are_read(board: Path) -> None:
    """Asia/Kolkata is 5 h 30 min ahead of UTC all year (IANA zone data; from memory)."""
    page, _ = read_page(board / "days/north_2027-03-10.html")
    assert "all times are Asia/Kolkata, UTC+05:30" in page.classed("p", "answers")[0].text


def test_days_and_sites_are_one_step_away(board: Path) -> None:
    page, _ = read_page(board / "days/harbour_2027-03-10.html")
    ways = {tag.text: tag.attributes["href"] for tag in page.classed("nav", "near")[0].find("a")}
    assert ways == {
        "Day before: Tue 9 Mar": "harbour_2027-03-09.html",
        "North Gate": "north_2027-03-10.html",
    }


def test_an_empty_day_says_what_would_fill_it(board: Path) -> None:
    page, _ = read_page(board / "days/north_2027-03-10.html")
    assert "No session is planned here on this day." in page.text
    assert "Nobody is on shift here on this day: a shift would open it." in page.text


def test_a_short_bar_says_the_minutes_of_its_told_time(tmp_path: Path) -> None:
    plan = small_plan()
    first, second, *others = plan.bookings
    short = replace(second, minutes=10)
    write_board(small_network(), replace(plan, bookings=(first, short, *others)), {}, tmp_path)
    page, _ = read_page(tmp_path / "days/harbour_2027-03-09.html")
    labels = [bar.find("text")[0].text for bar in page.find("a", href="#line-2")]
    assert labels == [":15", ":15"]
    assert page.find("a", href="#line-1")[0].find("text")[0].text == "09:00"
