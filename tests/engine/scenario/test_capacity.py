"""Effective capacity against sums by hand and against counting minute by minute."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from planner.engine.network import Care, Closure, Shift, Site, Station, Window
from planner.engine.scenario.capacity import care_by_site_day, opening_by_day, site_day
from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.describe import describe
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.units import DAY

if TYPE_CHECKING:
    from planner.engine.network import Network

OPEN = (Window(480, 1020),)
NOON_BREAK = (30, 690, 810)


def _station(*closed: Closure, number: int = 1) -> Station:
    return Station(f"s-{number}", "s", (), closed)


def test_a_station_without_a_technician_holds_nothing() -> None:
    held = site_day(0, OPEN, [_station()], [])
    assert (held.station_minutes, held.technician_minutes, held.effective) == (540, 0, 0)


def test_closed_times_count_only_inside_opening_hours() -> None:
    closed = (Closure(400, 500, "calibration"), Closure(1000, 1100, "cleaning"))
    held = site_day(0, OPEN, [_station(*closed)], [Shift("s", 480, 1020, 0, 480, 1020)])
    # By hand: 540 - 20 - 20.
    assert held.station_minutes == 500
    assert held.effective == 500


def test_a_break_in_opening_hours_takes_its_minutes() -> None:
    held = site_day(0, OPEN, [_station()], [Shift("s", 480, 990, *NOON_BREAK)])
    assert (held.technician_minutes, held.effective) == (480, 480)


def test_a_break_that_fits_the_lunch_closing_takes_nothing() -> None:
    opening = (Window(480, 720), Window(765, 1020))
    held = site_day(0, opening, [_station()], [Shift("s", 480, 1020, *NOON_BREAK)])
    assert held.technician_minutes == 240 + 255


def test_a_break_longer_than_the_lunch_closing_takes_the_rest() -> None:
    opening = (Window(480, 720), Window(740, 1020))
    held = site_day(0, opening, [_station()], [Shift("s", 480, 1020, *NOON_BREAK)])
    assert held.technician_minutes == 240 + 280 - 10


def test_two_half_shifts_that_overlap_share_one_station() -> None:
    shifts = [Shift("s", 480, 780, 0, 480, 780), Shift("s", 720, 1020, 0, 720, 1020)]
    held = site_day(0, OPEN, [_station()], shifts)
    assert (held.technician_minutes, held.together_minutes) == (600, 540)
    assert held.effective == 540


def test_two_stations_cannot_use_a_pair_of_shifts_that_never_meet() -> None:
    shifts = [Shift("s", 480, 600, 0, 480, 600), Shift("s", 900, 1020, 0, 900, 1020)]
    closed = _station(Closure(480, 700, "calibration"), number=2)
    also = _station(Closure(480, 900, "calibration"))
    held = site_day(0, OPEN, [also, closed], shifts)
    # Before 10:00 no station is open; from 15:00 there is one technician for two stations.
    assert held.effective == 120


def test_care_is_shared_out_over_the_open_days_of_its_window() -> None:
    site = Site("s", "S", "UTC", (Window(480, 1020), Window(DAY * 2 + 480, DAY * 2 + 1020)))
    stations = [_station(number=1), _station(number=2)]
    care = [
        Care("c1", "s-1", 40, 0, 3, technician=True),
        Care("c2", "s-2", 30, 2, 9, technician=False),
        Care("c3", "s-2", 30, 1, 1, technician=False),
    ]
    charged = care_by_site_day(care, stations, {"s": opening_by_day(site)}, days=4)
    assert charged == {("s", 0): (20, 20), ("s", 2): (50, 20)}


@pytest.mark.parametrize(
    "network", [generate(SIZES["S"], seed=3), demo_network()], ids=["S", "demo"]
)
def test_capacity_agrees_with_counting_every_minute(network: Network) -> None:
    by_hand = {
        site.id: sum(_counted(network, site, day) for day in range(network.days))
        for site in network.sites
    }
    found = {site.site: site.capacity for site in describe(network).sites}
    assert found == pytest.approx(by_hand)


def _counted(network: Network, site: Site, day: int) -> float:
    """The effective minutes of a site and day, minute by minute from the network's values."""
    minutes = [m for w in site.open if w.start // DAY == day for m in range(w.start, w.end)]
    mine = [station for station in network.stations if station.site == site.id]
    shifts = [s for t in network.technicians for s in t.shifts if s.site == site.id]
    today = [shift for shift in shifts if shift.start // DAY == day]
    desks = [sum(_is_open(station, minute) for station in mine) for minute in minutes]
    people = [sum(s.start <= minute < s.end for s in today) for minute in minutes]
    breaks = sum(_least_break(shift, set(minutes)) for shift in today if shift.break_minutes)
    care = attended = 0.0
    for item in network.care:
        station = next((one for one in mine if one.id == item.station), None)
        if station is not None and item.earliest <= day <= item.latest:
            days = {
                w.start // DAY
                for w in site.open
                if any(_is_open(station, minute) for minute in range(w.start, w.end))
            } & set(range(item.earliest, item.latest + 1))
            care += item.minutes / len(days) * (day in days)
            attended += item.minutes / len(days) * (day in days) * item.technician
    together = sum(map(min, desks, people))
    return max(0.0, min(sum(desks) - care, sum(people) - breaks - attended, together - attended))


def _is_open(station: Station, minute: int) -> bool:
    return all(not c.start <= minute < c.end for c in station.closed)


def _least_break(shift: Shift, minutes: set[int]) -> int:
    first = max(shift.start, shift.break_start)
    last = min(shift.end, shift.break_end) - shift.break_minutes
    return min(
        len(minutes & set(range(start, start + shift.break_minutes)))
        for start in range(first, last + 1)
    )
