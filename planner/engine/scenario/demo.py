"""The demo network: three weeks at six invented sites, two of them overloaded."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.engine.network import Closure, Site, Station, Technician, Window
from planner.engine.scenario.assemble import assemble, demand_minutes
from planner.engine.scenario.capacity import (
    care_by_site_day,
    opening_by_day,
    shifts_by_site_day,
    site_days,
)
from planner.engine.scenario.crew import SKILLS, shift_in
from planner.engine.scenario.demo_layout import (
    CLOSURES,
    DAYS,
    HOLIDAY,
    PART_DAY_CLOSURES,
    SEATS,
    SITES,
    SeatPlan,
    SitePlan,
)
from planner.engine.scenario.desks import make_care
from planner.engine.scenario.people import Offer, make_requests
from planner.engine.scenario.places import Place, weekly_opening
from planner.engine.scenario.profiles import usual_lengths
from planner.engine.units import DAY

if TYPE_CHECKING:
    from planner.engine.network import Network, Request

LOAD = 0.95
_FIRST_GUESS = 3000
_BOOKED = 0.05


def demo_network(seed: int = 1) -> Network:
    """The demo: its sites and people are written down, its requests and care are drawn."""
    places = tuple(_place(plan) for plan in SITES)
    opening = {place.site.id: opening_by_day(place.site) for place in places}
    stations = tuple(station for plan in SITES for station in _stations(plan, opening[plan.id]))
    crew = tuple(_technician(seat, opening) for seat in SEATS)
    care = make_care(stations, opening, DAYS, seed)
    shifts = shifts_by_site_day(shift for technician in crew for shift in technician.shifts)
    charged = care_by_site_day(care, stations, opening, DAYS)
    room = dict.fromkeys(opening, 0.0)
    for (site, _), held in site_days(opening, stations, shifts, charged).items():
        room[site] += held.effective
    pull = [place.appeal * room[place.site.id] for place in places]
    asked = _offers(stations)
    target = LOAD * sum(room.values())
    sample = make_requests(places, pull, asked, count=_FIRST_GUESS, days=DAYS, seed=seed)
    count = round(_FIRST_GUESS * target / demand_minutes(sample, usual_lengths()))
    requests = make_requests(places, pull, asked, count=count, days=DAYS, seed=seed)
    return assemble(
        places,
        stations,
        crew,
        care,
        _with_hopeless(requests),
        days=DAYS,
        seed=seed,
        booked=_BOOKED,
        reserved={plan.id for plan in SITES if plan.reserve},
    )


def _place(plan: SitePlan) -> Place:
    week = [plan.hours.get(weekday, ()) for weekday in range(7)]
    windows = tuple(
        window
        for window in weekly_opening(DAYS, week)
        if not (plan.holiday and window.start // DAY == HOLIDAY)
    )
    site = Site(plan.id, plan.name, plan.timezone, windows)
    return Place(site, plan.x, plan.y, len(plan.features), plan.appeal, plan.rates)


def _stations(plan: SitePlan, opening: dict[int, list[Window]]) -> list[Station]:
    weekday, at_end, minutes = plan.calibration
    calibration = []
    for day, windows in opening.items():
        if weekday in (None, day % 7):
            start = windows[-1].end - minutes if at_end else windows[0].start
            calibration.append(Closure(start, start + minutes, "calibration"))
    found = []
    for number, features in enumerate(plan.features, start=1):
        name = f"{plan.id}-{number}"
        shut = [
            Closure(first * DAY, (first + days) * DAY, why)
            for station, first, days, why in CLOSURES
            if station == name
        ]
        shut += [
            Closure(day * DAY + start, day * DAY + end, why)
            for station, day, start, end, why in PART_DAY_CLOSURES
            if station == name
        ]
        kept = [c for c in calibration if all(c.end <= s.start or s.end <= c.start for s in shut)]
        closed = tuple(sorted([*kept, *shut], key=lambda closure: closure.start))
        found.append(Station(name, plan.id, features, closed))
    return found


def _technician(seat: SeatPlan, opening: dict[str, dict[int, list[Window]]]) -> Technician:
    shifts = [
        shift_in(site, windows, late=seat.late, short=seat.short)
        for site, weekdays in seat.works
        for day, windows in opening[site].items()
        if day % 7 in weekdays
    ]
    return Technician(seat.id, seat.skills, tuple(sorted(shifts, key=lambda shift: shift.start)))


def _offers(stations: tuple[Station, ...]) -> list[Offer]:
    """Features as they are, but every skill: subjects do not know where a skill is missing."""
    return [
        Offer(
            frozenset(word for s in stations if s.site == plan.id for word in s.features),
            frozenset(SKILLS),
        )
        for plan in SITES
    ]


def _with_hopeless(requests: tuple[Request, ...]) -> tuple[Request, ...]:
    """The requests with five among them that nobody can serve, so that their reasons are seen."""
    sundays = tuple(Window(d * DAY + 540, d * DAY + 1020) for d in range(6, DAYS, 7))
    changed = list(requests)
    for index in (400, 1200, 2000):
        changed[index] = replace(changed[index], available=sundays)
    for index in (800, 1600):
        changed[index] = replace(changed[index], skills=("sign_language",))
    return tuple(changed)
