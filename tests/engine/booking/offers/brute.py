"""Every start there is, minute by minute, by code that shares nothing with the search."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.plan import Booking, Plan, Reason, Unbooked
from planner.engine.sessions.waits import assess
from planner.engine.units import DAY, NOON, told
from planner.engine.verify.cost import charges
from planner.engine.verify.facts import gather

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.engine.network import Network, Profile, Request, Station, Technician

    Free = NDArray[np.bool_]

WHY = (Reason("full", "left out for this test", "none"),)


@dataclass(frozen=True, slots=True)
class Start:
    """A start that rules 1 to 4 and 8 allow, with what it costs and its minutes are worth."""

    cost: float
    price: float
    booking: Booking

    @property
    def place(self) -> tuple[str, int]:
        """Site and told time: what a subject would tell apart."""
        return self.booking.site, self.booking.told


def without(plan: Plan, name: str) -> Plan:
    """The plan with a request left out."""
    kept = tuple(item for item in plan.bookings if item.request != name)
    if len(kept) == len(plan.bookings):
        return plan
    return replace(plan, bookings=kept, unbooked=(*plan.unbooked, Unbooked(name, WHY)))


def with_booking(network: Network, plan: Plan, booking: Booking) -> Plan:
    """The plan with one more booking (in place of the request's own), its figures put right."""
    left = without(plan, booking.request)
    made = replace(
        left,
        bookings=(*left.bookings, booking),
        unbooked=tuple(item for item in left.unbooked if item.request != booking.request),
    )
    return put_right(network, made)


def restated(network: Network, plan: Plan, *keep: str) -> Plan:
    """The plan with the P(wait) of its bookings estimated anew, but for some that stand as told."""
    found = assess(
        network, plan.bookings, plan.care, plan.breaks, draws_n=2000, seed=9, purpose="restate"
    )
    bookings = tuple(
        item if item.request in keep else replace(item, p_wait=found.p_wait[item.request])
        for item in plan.bookings
    )
    return replace(plan, bookings=bookings)


def put_right(network: Network, plan: Plan) -> Plan:
    """The plan with `moved`, objective, bound and gap as they follow from the rest."""
    now = {item.request: item for item in plan.bookings}
    moved = tuple(
        item.id
        for item in network.appointments
        if not item.fixed
        and (
            item.request not in now
            or (now[item.request].station, now[item.request].technician, now[item.request].told)
            != (item.station, item.technician, told(item.start, network.grain))
        )
    )
    plan = replace(plan, moved=moved)
    cost = charges(gather(network, plan)).total
    return replace(plan, objective=cost, bound=0.0, gap=None)


def every_start(network: Network, plan: Plan, request: Request) -> list[Start]:
    """Every (station, technician, minute) at which the request could be booked."""
    rest = without(plan, request.id)
    alone = charges(gather(network, rest)).total - _left_out(network, request)
    profiles = {item.id: item for item in network.profiles}
    known: dict[tuple[str, int, bool], float] = {}
    homes = {
        (a.station, a.technician, told(a.start, network.grain))
        for a in network.appointments
        if a.request == request.id
    }
    found = []
    for choice in request.sites:
        profile = profiles[choice.profile or request.profile]
        minutes = plan.lengths[profile.id]
        skills = {*request.skills, *profile.skills}
        for station in network.stations:
            if station.site != choice.site or not set(request.features) <= set(station.features):
                continue
            for person in network.technicians:
                if skills <= set(person.skills):
                    for start in _starts(network, rest, request, station, person, minutes):
                        booking = Booking(
                            request.id, choice.site, station.id, person.id, start,
                            told(start, network.grain), minutes, 0.0,
                        )  # fmt: skip
                        home = (station.id, person.id, booking.told) in homes
                        key = (choice.site, start // DAY, home)
                        if key not in known:
                            known[key] = _cost(network, rest, booking, alone)
                        price = _price(plan, request, profile, booking)
                        found.append(Start(known[key], price, booking))
    return found


def _left_out(network: Network, request: Request) -> float:
    cost = network.policy.cost
    each = cost.unbooked if request.unbooked is None else request.unbooked
    movable = any(a.request == request.id and not a.fixed for a in network.appointments)
    return each * request.weight + cost.move * movable


def _cost(network: Network, rest: Plan, booking: Booking, alone: float) -> float:
    """What the judge charges for the plan with the booking more than for the rest of it."""
    left = tuple(item for item in rest.unbooked if item.request != booking.request)
    made = replace(rest, bookings=(*rest.bookings, booking), unbooked=left)
    return charges(gather(network, made)).total - alone


def _price(plan: Plan, request: Request, profile: Profile, booking: Booking) -> float:
    minute = booking.start % DAY
    total = 0.0
    for price in plan.prices:
        parts = ("am" if minute < NOON else "pm", "day")
        if (price.site, price.day) == (booking.site, booking.start // DAY) and price.part in parts:
            total += price.station_minute + price.technician_minute
            for name, value in price.featured:
                total += value * (set(name.split("+")) <= set(request.features))
            for name, value in price.skilled:
                total += value * (set(name.split("+")) <= {*request.skills, *profile.skills})
    return total * booking.minutes


def _busy(network: Network, rest: Plan, station: Station, person: Technician) -> Free:
    """The minutes of the horizon in which either has something to do."""
    cares = {item.id: item for item in network.care}
    spans = [(item.start, item.end) for item in station.closed]
    spans += [
        (item.start, item.start + item.minutes)
        for item in rest.bookings
        if station.id == item.station or person.id == item.technician
    ]
    spans += [
        (placed.start, placed.start + cares[placed.care].minutes)
        for placed in rest.care
        if cares[placed.care].station == station.id or placed.technician == person.id
    ]
    spans += [(b.start, b.start + b.minutes) for b in rest.breaks if b.technician == person.id]
    return _mask(spans, 0, network.days * DAY)


def _starts(
    network: Network,
    rest: Plan,
    request: Request,
    station: Station,
    person: Technician,
    minutes: int,
) -> list[int]:
    busy = _busy(network, rest, station, person)
    site = next(item for item in network.sites if item.id == station.site)
    starts = set()
    for window in site.open:
        for shift in person.shifts:
            low = max(0, window.start, shift.start, request.release * DAY)
            high = min(len(busy), window.end, shift.end) if shift.site == site.id else 0
            for start in range(low, high - minutes + 1):
                end = start + minutes
                can_come = not request.available or any(
                    w.start <= start and end <= w.end for w in request.available
                )
                if can_come and not busy[start:end].any():
                    starts.add(start)
    left = {day: _left(network, rest, site.id, day) for day in {s // DAY for s in starts}}
    return sorted(s for s in starts if request.rework or left[s // DAY] >= minutes)


def _left(network: Network, rest: Plan, site: str, day: int) -> float:
    """Rule 8, by minutes: what bookings that are not rework may still take."""
    held = [item.minutes for item in network.reserve if (item.site, item.day) == (site, day)]
    if not held:
        return np.inf
    low, high = day * DAY, day * DAY + DAY
    place = next(item for item in network.sites if item.id == site)
    is_open = _mask([(w.start, w.end) for w in place.open if w.start // DAY == day], low, high)
    cares = {item.id: item for item in network.care}
    stations = technicians = 0
    for station in network.stations:
        if station.site == site:
            taken = [(c.start, c.end) for c in station.closed]
            taken += [
                (p.start, p.start + cares[p.care].minutes)
                for p in rest.care
                if cares[p.care].station == station.id
            ]
            stations += int((is_open & ~_mask(taken, low, high)).sum())
    for person in network.technicians:
        there = _mask([(s.start, s.end) for s in person.shifts if s.site == site], low, high)
        taken = [(b.start, b.start + b.minutes) for b in rest.breaks if b.technician == person.id]
        taken += [
            (p.start, p.start + cares[p.care].minutes)
            for p in rest.care
            if p.technician == person.id
        ]
        technicians += int((is_open & there & ~_mask(taken, low, high)).sum())
    rework = {item.id for item in network.requests if item.rework}
    used = sum(
        b.minutes
        for b in rest.bookings
        if b.site == site and b.start // DAY == day and b.request not in rework
    )
    return min(stations, technicians) - held[0] - used


def _mask(spans: list[tuple[int, int]], low: int, high: int) -> Free:
    mask = np.zeros(high - low, dtype=np.bool_)
    for start, end in spans:
        if end > low and start < high:
            mask[max(0, start - low) : max(0, end - low)] = True
    return mask
