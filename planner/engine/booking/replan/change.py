"""The network after the events, with everybody whom the plan booked as an appointment."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.replan.events import Events, by_thing
from planner.engine.errors import Fault, NetworkImpossible
from planner.engine.network import (
    Appointment,
    Closure,
    Network,
    Shift,
    Site,
    Station,
    Technician,
    Window,
)
from planner.engine.plan import Break, Plan
from planner.engine.units import minute_text

Span = tuple[int, int]

WHY = "down"
REMEDY = "move or free this appointment, or bring back what it needs"


def changed_network(network: Network, plan: Plan, events: Events) -> Network:
    """The network with the events applied and ``plan``'s bookings as its appointments.

    An appointment's id is its request's. Fixed ones stay fixed; the others may be moved, also
    where their station or technician is gone: that they have to move is part of the cost.

    Raises
    ------
    NetworkImpossible
        Naming every fixed appointment that the events leave without its station, its technician
        or an open site.

    """
    cancelled = set(events.cancelled)
    down, absent, closed = by_thing(events.down), by_thing(events.absent), by_thing(events.closed)
    fixed = {item.request for item in network.appointments if item.fixed}
    technicians = tuple(
        _absent(person, absent.get(person.id, ()), plan.breaks) for person in network.technicians
    )
    appointments = [
        Appointment(item.request, item.request, item.station, item.technician, item.start,
                    item.minutes, item.request in fixed)
        for item in plan.bookings
        if item.request not in cancelled
    ]  # fmt: skip
    stranded = _stranded(network, technicians, appointments)
    changed = replace(
        network,
        sites=tuple(_closed(site, closed.get(site.id, ())) for site in network.sites),
        stations=tuple(_down(station, down.get(station.id, ())) for station in network.stations),
        technicians=technicians,
        requests=(
            *(item for item in network.requests if item.id not in cancelled),
            *events.added,
        ),
        appointments=tuple(item for k, item in enumerate(appointments) if k not in stranded),
    )
    faults = list(stranded.values())
    try:
        check_fixed(with_breaks_in_shifts(changed))
    except NetworkImpossible as others:
        faults += _as_read(others.faults, changed, network)
    if faults:
        raise NetworkImpossible(faults)
    return changed


def subtract(spans: Iterable[Span], cuts: Iterable[Span]) -> list[Span]:
    """What is left of half-open spans when others are cut out of them."""
    left = list(spans)
    for low, high in cuts:
        left = [
            piece
            for start, end in left
            for piece in ((start, min(end, low)), (max(start, high), end))
            if piece[0] < piece[1]
        ]
    return left


def _down(station: Station, cuts: Sequence[Span]) -> Station:
    """Close a station for what of the time it is not closed already.

    Closed times that overlap would happen one after the other (rule 9), and so last too long.
    """
    closed = station.closed
    for cut in cuts:
        new = subtract([cut], [(item.start, item.end) for item in closed])
        closed = (*closed, *(Closure(start, end, WHY) for start, end in new))
    return replace(station, closed=closed)


def _closed(site: Site, cuts: Sequence[Span]) -> Site:
    if not cuts:
        return site
    left = [piece for item in site.open for piece in subtract([(item.start, item.end)], cuts)]
    return replace(site, open=tuple(Window(start, end) for start, end in left))


def _absent(person: Technician, cuts: Sequence[Span], breaks: Iterable[Break]) -> Technician:
    if not cuts:
        return person
    planned = [(item.start, item.minutes) for item in breaks if item.technician == person.id]
    shifts = [piece for shift in person.shifts for piece in cut_shift(shift, cuts, planned)]
    return replace(person, shifts=tuple(shifts))


def cut_shift(shift: Shift, cuts: Sequence[Span], planned: Iterable[Span]) -> list[Shift]:
    """What is left of a shift; ``planned`` holds (start, minutes) of its technician's breaks.

    The break goes with the piece in which it was planned; where no piece holds all of that time,
    with the piece that has most of the break's window (the first, where two are alike); where no
    piece has enough of the window, it goes.
    """
    pieces = subtract([(shift.start, shift.end)], cuts)
    if pieces == [(shift.start, shift.end)]:
        return [shift]
    minutes = shift.break_minutes
    windows = [(max(a, shift.break_start), min(b, shift.break_end)) for a, b in pieces]
    holder = -1
    if minutes:
        rooms = [high - low for low, high in windows]
        inside = [
            k
            for k, (low, high) in enumerate(windows)
            if any(low <= start and start + minutes <= high for start, _ in planned)
        ]
        best = max(range(len(pieces)), key=lambda k: (rooms[k], -k), default=-1)
        if inside:
            holder = inside[0]
        elif best >= 0 and rooms[best] >= minutes:
            holder = best
    return [
        Shift(shift.site, start, end, minutes, *windows[k])
        if k == holder
        else Shift(shift.site, start, end, 0, start, end)
        for k, (start, end) in enumerate(pieces)
    ]


def _as_read(faults: Iterable[Fault], changed: Network, network: Network) -> list[Fault]:
    """Faults of the changed network's appointments, by their places in the one that was read."""
    place = {item.request: k for k, item in enumerate(network.appointments)}
    paths = {
        f"appointments[{k}]": f"appointments[{place[item.request]}]"
        for k, item in enumerate(changed.appointments)
        if item.request in place
    }
    return [Fault(paths.get(item.path, item.path), item.problem, item.remedy) for item in faults]


def _stranded(
    network: Network, technicians: Iterable[Technician], appointments: Sequence[Appointment]
) -> dict[int, Fault]:
    """Fixed appointments whose technician has no shift at all left at their site, by place.

    With them no network could be made: the other faults are looked for without them.
    """
    site_of = {station.id: station.site for station in network.stations}
    places = {item.id: {shift.site for shift in item.shifts} for item in technicians}
    read = {item.request: k for k, item in enumerate(network.appointments)}
    found = {}
    for number, item in enumerate(appointments):
        if item.fixed and site_of[item.station] not in places[item.technician]:
            when = minute_text(item.start, network.first_day)
            text = (
                f"fixed appointment {item.id} at {when}: technician {item.technician} has no"
                f" shift left at site {site_of[item.station]}"
            )
            found[number] = Fault(f"appointments[{read[item.request]}]", text, REMEDY)
    return found
