"""A network and its plan, laid out by site and day: what the pages look things up in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TypeVar

from planner.engine.network import Care, Closure, Network, Request, Shift, Site, Station, Window
from planner.engine.plan import Booking, Break, CarePlaced, Plan
from planner.engine.units import DAY

K = TypeVar("K")
T = TypeVar("T")
SiteDay = tuple[str, int]


@dataclass(frozen=True)
class Book:
    """Look-ups; every list is in the order of time, then of name.

    ``said`` holds what the record says of a request's appointment, where there is a record.
    """

    network: Network
    plan: Plan
    sites: dict[str, Site]
    requests: dict[str, Request]
    stations: dict[str, list[Station]]
    bookings: dict[SiteDay, list[Booking]]
    care: dict[SiteDay, list[tuple[Care, CarePlaced]]]
    breaks: dict[SiteDay, list[Break]]
    shifts: dict[SiteDay, list[tuple[str, Shift]]]
    closures: dict[SiteDay, list[tuple[str, Closure]]]
    openings: dict[SiteDay, list[Window]]
    fixed: frozenset[str]
    moved: frozenset[str]
    said: Mapping[str, str]

    def profile_at(self, booking: Booking) -> str:
        """The profile that the request has at the booking's site."""
        request = self.requests[booking.request]
        there = (item.profile for item in request.sites if item.site == booking.site)
        return next(there, None) or request.profile

    def told_order(self, site: str, day: int) -> list[Booking]:
        """A day's bookings in the order of told time: the order of its list."""
        booked = self.bookings.get((site, day), [])
        return sorted(booked, key=lambda item: (item.told, item.start, item.station))

    def working_days(self, site: str) -> list[int]:
        """The days of the horizon on which the site is open, staffed or booked."""
        busy = (self.openings, self.shifts, self.bookings)
        return [day for day in range(self.network.days) if any((site, day) in by for by in busy)]


def open_book(network: Network, plan: Plan, said: Mapping[str, str] | None = None) -> Book:
    """Sort everything by site and day."""
    stations = {item.id: item for item in network.stations}
    cares = {item.id: item for item in network.care}
    shifts = [(who.id, shift) for who in network.technicians for shift in who.shifts]
    own = _grouped(shifts)
    moved = set(plan.moved)
    return Book(
        network=network,
        plan=plan,
        sites={item.id: item for item in network.sites},
        requests={item.id: item for item in network.requests},
        stations=_grouped((item.site, item) for item in network.stations),
        bookings=_grouped(
            ((item.site, item.start // DAY), item)
            for item in sorted(plan.bookings, key=lambda item: (item.start, item.station))
        ),
        care=_grouped(
            ((stations[cares[put.care].station].site, put.start // DAY), (cares[put.care], put))
            for put in sorted(plan.care, key=lambda put: (put.start, put.care))
        ),
        breaks=_grouped(
            (_place(item, own.get(item.technician, [])), item)
            for item in sorted(plan.breaks, key=lambda item: (item.start, item.technician))
        ),
        shifts=_grouped(
            ((shift.site, shift.start // DAY), (who, shift))
            for who, shift in sorted(shifts, key=lambda pair: (pair[0], pair[1].start))
        ),
        closures=_grouped(
            ((item.site, day), (item.id, closure))
            for item in network.stations
            for closure in sorted(item.closed, key=lambda closure: closure.start)
            for day in range(closure.start // DAY, (closure.end - 1) // DAY + 1)
        ),
        openings=_grouped(
            ((item.id, window.start // DAY), window)
            for item in network.sites
            for window in sorted(item.open, key=lambda window: window.start)
        ),
        fixed=frozenset(item.request for item in network.appointments if item.fixed),
        moved=frozenset(item.request for item in network.appointments if item.id in moved),
        said=said or {},
    )


def _place(item: Break, shifts: list[Shift]) -> SiteDay:
    """Where and when a break is: in that one of its technician's shifts that holds it."""
    for shift in shifts:
        if shift.start <= item.start < shift.end:
            return shift.site, item.start // DAY
    raise ValueError(f"break of {item.technician} at minute {item.start} lies in no shift")


def _grouped(pairs: Iterable[tuple[K, T]]) -> dict[K, list[T]]:
    found: dict[K, list[T]] = defaultdict(list)
    for key, value in pairs:
        found[key].append(value)
    return dict(found)
