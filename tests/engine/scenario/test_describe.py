"""The report of a network against counts by hand."""

from __future__ import annotations

from planner.engine.scenario.describe import describe, description_text
from planner.engine.scenario.small import SMALL
from tests.engine import samples


def test_one_station_is_described_as_counted_by_hand() -> None:
    found = describe(SMALL["one-station"]())
    (site,) = found.sites
    # Two mornings of 240 minutes, 15 of one closed, a break of 15 in each: 465 and 450 minutes.
    assert (site.station_minutes, site.technician_minutes, site.capacity) == (465, 450, 450)
    assert (site.stations, site.station_days, site.technician_days) == (1, 2, 2)
    # Seven first sessions of 18 minutes, one of 32.
    assert (site.requests, site.demand, found.rework) == (8, 158, 1)
    assert site.load == 158 / 450
    assert found.density() == 450 / (158 / 8) / 2


def test_the_sample_is_described_as_counted_by_hand() -> None:
    north, south = describe(samples.network()).sites
    # North: day 0 two stations of 480, 30 closed, day 1 two of 480; care 20 on n2. Technicians:
    # two of 480 on day 0 less a break of 30 (the opening times touch, so it takes opening
    # minutes) and half of the care, which both days share; nobody on day 1. The break can fall
    # into the closed time of n1, so that stations cost nothing more.
    assert north.station_minutes == 480 * 4 - 30 - 20
    assert north.technician_minutes == 960 - 30 - 10
    assert north.capacity == 960 - 30 - 10
    assert (south.capacity, south.technician_days) == (480, 1)


def test_nothing_is_described_without_a_load_or_a_density() -> None:
    found = describe(SMALL["empty"]())
    assert found.total().load is None
    assert found.density() is None
    assert "hold: none" in description_text(found)


def test_the_text_has_a_row_for_every_site_and_one_for_all() -> None:
    rows = description_text(describe(samples.network())).splitlines()
    assert [row.split()[0] for row in rows[-3:]] == ["north", "south", "all"]
