"""Rule 3: the site open, the station not closed, the technician on shift, for the whole length."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.verify.breach import Breach
from planner.engine.verify.spans import last_shared

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.verify.facts import Facts


def bookings_in_place(facts: Facts) -> Iterator[Breach]:
    """Rule 3 for every booking."""
    for booking in facts.plan.bookings:
        who, start, minutes = booking.request, booking.start, booking.minutes
        site = facts.site_of(booking)
        for why in site_not_open(facts, site, start, minutes):
            yield Breach(3, (who, site), f"{who} is booked {why}")
        for why in station_closed(facts, booking.station, start, minutes):
            yield Breach(3, (who, booking.station), f"{who} is booked {why}")
        for why in off_shift(facts, booking.technician, site, start, minutes):
            yield Breach(3, (who, booking.technician), f"{who} is booked {why}")


def site_not_open(facts: Facts, site: str, start: int, minutes: int) -> Iterator[str]:
    """Why no single opening time of ``site`` holds ``[start, start + minutes)``, if none does.

    Opening times that touch are still two.
    """
    opening = facts.opening_at(site, start)
    span = facts.span(start, minutes)
    if opening is None or opening[1] <= start:
        yield f"{span}, when {site} is not open"
    elif start + minutes > opening[1]:
        yield f"{span}, past the end of {site}'s opening time at {facts.at(opening[1])}"


def station_closed(facts: Facts, station: str, start: int, minutes: int) -> Iterator[str]:
    """Why ``station`` is closed in ``[start, start + minutes)``, if it is."""
    shared = last_shared(facts.closed.get(station, []), start, start + minutes)
    if shared is not None:
        whys = sorted(
            {
                closure.why
                for closure in facts.stations[station].closed
                if closure.start < start + minutes and start < closure.end
            }
        )
        closed = f"closed from {facts.at(shared[0])} to {facts.at(shared[1])} ({', '.join(whys)})"
        yield f"{facts.span(start, minutes)}, when {station} is {closed}"


def off_shift(facts: Facts, technician: str, site: str, start: int, minutes: int) -> Iterator[str]:
    """Why ``technician`` is not on one shift at ``site`` all that time, if not."""
    span = facts.span(start, minutes)
    if technician not in facts.technicians:
        yield f"{span} with {technician}, no known technician"
        return
    entry = facts.shift_at(technician, start)
    if entry is None:
        yield f"{span}, when {technician} is not on shift"
        return
    shift = entry[1]
    if shift.site != site:
        yield f"{span} at {site}, when {technician} is on shift at {shift.site}"
    if start + minutes > shift.end:
        yield f"{span}, past the end of {technician}'s shift at {facts.at(shift.end)}"
