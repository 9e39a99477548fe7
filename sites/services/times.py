"""Times that change what can be booked: downtimes, absences, shifts and breaks."""

from __future__ import annotations

from datetime import date

from sites.access import require_here
from sites.clock import visit_span, wall_span
from sites.errors import BadValue
from sites.models import (
    Absence,
    Break,
    CareWindow,
    Downtime,
    Shift,
    Site,
    Station,
    Technician,
    User,
)
from sites.services.displace import Displaced, make_room
from sites.services.write import written


@written
def downtime_add(
    *,
    station: Station,
    day: date,
    minute: int,
    minutes: int,
    reason: str,
    displace: bool = False,
    by: User | None = None,
) -> tuple[Downtime, list[Displaced]]:
    """Take a station out of use for a time; bookings there are refused, or lose their place.

    Care that a plan placed there loses its time too, and waits to be placed again.
    """
    require_here(by, station)
    if not reason.strip():
        raise BadValue("downtime", "has no reason", "say why the station takes nobody")
    span = wall_span(station.site.timezone, day, minute, minutes)
    moved = make_room(span, by=by, why=reason, displace=displace, station=station)
    if displace:
        CareWindow.objects.filter(
            station=station,
            fixed=False,
            outcome="",
            starts_at__lt=span["ends_at"],
            ends_at__gt=span["starts_at"],
        ).update(day=None, minute=None, starts_at=None, ends_at=None, technician=None)
    return Downtime.objects.create(station=station, reason=reason, **span), moved


@written
def absence_add(
    *,
    technician: Technician,
    day: date,
    minute: int,
    minutes: int,
    displace: bool = False,
    by: User | None = None,
) -> tuple[Absence, list[Displaced]]:
    """Keep that a technician is away, on the clock of their home site; no reason is kept.

    Whoever keeps it needs the technician in view, not each site that loses a booking by it.
    """
    require_here(by, technician)
    span = wall_span(technician.home.timezone, day, minute, minutes)
    moved = make_room(span, by=by, why="technician away", displace=displace, technician=technician)
    return Absence.objects.create(technician=technician, **span), moved


@written
def shift_add(
    *,
    technician: Technician,
    site: Site,
    day: date,
    minute: int,
    minutes: int,
    break_minutes: int = 0,
    break_from: int | None = None,
    break_to: int | None = None,
) -> Shift:
    """Put a technician on shift; shifts of one technician never overlap."""
    span = wall_span(site.timezone, day, minute, minutes)
    if break_minutes and (break_from is None or break_to is None):
        raise BadValue("break", "has no window", "give break_from and break_to, or no break")
    return Shift.objects.create(
        technician=technician,
        site=site,
        break_minutes=break_minutes,
        break_from=break_from,
        break_to=break_to,
        **span,
    )


@written
def break_place(*, shift: Shift, day: date, minute: int) -> Break:
    """Give a shift's break its time, in place of the one it had."""
    if not shift.break_minutes:
        raise BadValue(str(shift), "has no break", "give the shift a break first")
    span = visit_span(shift.site.timezone, day, minute, shift.break_minutes)
    placed, _ = Break.objects.update_or_create(
        shift=shift, defaults={"technician": shift.technician, **span}
    )
    return placed
