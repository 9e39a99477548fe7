"""Rule 8: a day's reserve is left to rework."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from planner.engine.units import DAY
from planner.engine.verify.breach import Breach
from planner.engine.verify.spans import Span, common, minutes, minutes_less, union

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.plan import Booking
    from planner.engine.verify.facts import Facts

_Busy = dict[str, list[Span]]


def reserves_kept(facts: Facts) -> Iterator[Breach]:
    """Rule 8: planned minutes that are not rework are at most the room less the reserve.

    Fixed appointments count, but a day that they alone overfill is not the plan's doing.
    """
    if not facts.network.reserve:
        return
    ordinary = _ordinary(facts)
    stations, technicians = _taken_from_room(facts)
    for reserve in facts.network.reserve:
        bookings = ordinary.get((reserve.site, reserve.day), [])
        if all(facts.is_fixed(booking) for booking in bookings):
            continue
        opening = union(
            span for span in facts.openings[reserve.site] if span[0] // DAY == reserve.day
        )
        room = min(
            _station_minutes(facts, reserve.site, opening, stations),
            _technician_minutes(facts, reserve.site, opening, technicians),
        )
        used = sum(booking.minutes for booking in bookings)
        if used > room - reserve.minutes:
            detail = (
                f"{reserve.site} on {facts.date(reserve.day)} has {used} minutes of bookings that "
                f"are not rework; its room is {room}, of which {reserve.minutes} are reserved"
            )
            names = [booking.request for booking in bookings if not facts.is_fixed(booking)]
            yield Breach(8, (reserve.site, *dict.fromkeys(names)), detail)


def _ordinary(facts: Facts) -> dict[tuple[str, int], list[Booking]]:
    """Bookings that are not rework, by site and day."""
    found: dict[tuple[str, int], list[Booking]] = defaultdict(list)
    for booking in facts.plan.bookings:
        request = facts.requests.get(booking.request)
        if request is not None and not request.rework:
            found[facts.site_of(booking), booking.start // DAY].append(booking)
    return found


def _taken_from_room(facts: Facts) -> tuple[_Busy, _Busy]:
    """What lessens the room: closed times and care by station, breaks and care by technician."""
    stations = defaultdict(list, {name: list(spans) for name, spans in facts.closed.items()})
    technicians: dict[str, list[Span]] = defaultdict(list)
    for placed in facts.plan.care:
        care = facts.care.get(placed.care)
        if care is not None:
            span = (placed.start, placed.start + care.minutes)
            stations[care.station].append(span)
            if care.technician and placed.technician is not None:
                technicians[placed.technician].append(span)
    for rest in facts.plan.breaks:
        technicians[rest.technician].append((rest.start, rest.start + rest.minutes))
    return stations, technicians


def _station_minutes(facts: Facts, site: str, opening: list[Span], taken: _Busy) -> int:
    return sum(
        minutes_less(opening, union(taken.get(station.id, [])))
        for station in facts.network.stations
        if station.site == site
    )


def _technician_minutes(facts: Facts, site: str, opening: list[Span], taken: _Busy) -> int:
    total = 0
    for technician in facts.network.technicians:
        shifts = union(
            (shift.start, shift.end) for shift in technician.shifts if shift.site == site
        )
        there = common(shifts, opening)
        if minutes(there):
            total += minutes_less(there, union(taken.get(technician.id, [])))
    return total
