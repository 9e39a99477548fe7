"""Wall clocks and instants, on the days when clocks change too."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sites.clock import instant, visit_span, wall, wall_span
from sites.errors import BadValue

# Central European clocks go forward at 01:00 UTC on 29 March 2026 and back on 25 October 2026: the
# last Sundays of the months (Directive 2000/84/EC).
FORWARD, BACK = date(2026, 3, 29), date(2026, 10, 25)
VIENNA = "Europe/Vienna"
ZONES = [VIENNA, "America/New_York", "Asia/Kathmandu", "UTC", "Australia/Lord_Howe"]


def test_winter_and_summer_time() -> None:
    assert instant(VIENNA, date(2026, 1, 15), 600) == datetime(2026, 1, 15, 9, tzinfo=UTC)
    assert instant(VIENNA, date(2026, 7, 15), 600) == datetime(2026, 7, 15, 8, tzinfo=UTC)


def test_an_hour_that_is_left_out_has_no_start() -> None:
    with pytest.raises(BadValue, match=r"2026-03-29T02:30.*clocks go forward"):
        instant(VIENNA, FORWARD, 150)


def test_an_hour_that_comes_twice_starts_at_its_first_and_ends_at_its_second() -> None:
    assert instant(VIENNA, BACK, 150) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)
    assert instant(VIENNA, BACK, 150, ends=True) == datetime(2026, 10, 25, 1, 30, tzinfo=UTC)


def test_a_night_of_a_clock_change_is_an_hour_longer_or_shorter() -> None:
    for day, hours in ((FORWARD, 23), (BACK, 25), (date(2026, 6, 1), 24)):
        span = wall_span(VIENNA, day, 0, 24 * 60)
        assert span["ends_at"] - span["starts_at"] == timedelta(hours=hours)


def test_a_visit_lasts_its_minutes_on_any_clock() -> None:
    span = visit_span(VIENNA, BACK, 150, 60)
    assert span["ends_at"] - span["starts_at"] == timedelta(minutes=60)


def test_a_minute_of_a_later_day_is_written_on_that_day() -> None:
    assert visit_span("UTC", date(2026, 2, 28), 1500, 5)["day"] == date(2026, 3, 1)
    assert visit_span("UTC", date(2026, 2, 28), 1500, 5)["minute"] == 60


def test_a_length_must_be_above_nothing_and_a_zone_must_exist() -> None:
    with pytest.raises(BadValue, match="at least 1 minute"):
        visit_span("UTC", FORWARD, 0, 0)
    with pytest.raises(BadValue, match="IANA"):
        visit_span("Nowhere/Here", FORWARD, 0, 5)


@given(
    st.sampled_from(ZONES),
    st.dates(date(2024, 1, 1), date(2030, 12, 31)),
    st.integers(0, 1439),
)
def test_there_and_back_is_the_same_reading(zone: str, day: date, minute: int) -> None:
    try:
        at = instant(zone, day, minute)
    except BadValue:
        # Left out: then no instant shows this reading.
        near = datetime(day.year, day.month, day.day, tzinfo=UTC) - timedelta(hours=16)
        readings = {wall(zone, near + timedelta(minutes=n)) for n in range(56 * 60)}
        assert (day, minute) not in readings
    else:
        assert wall(zone, at) == (day, minute)
