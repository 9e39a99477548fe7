"""Booking, moving and walking appointments along their steps."""

from __future__ import annotations

import secrets
from datetime import date, datetime
from typing import Any

from django.db.models import F
from django.utils import timezone

from sites.access import require_here
from sites.clock import Span, visit_span
from sites.errors import BadValue, ChangedMeanwhile
from sites.fit import require_fit
from sites.models import (
    Appointment,
    AppointmentEvent,
    Notice,
    NoticeKind,
    PlanRun,
    Request,
    Station,
    Technician,
    User,
)
from sites.services.write import written
from sites.step import Step
from sites.steps import step_after

NOTICES = {
    "book": NoticeKind.BOOKED,
    "move": NoticeKind.MOVED,
    "displace": NoticeKind.CANCELLED,
    "cancel": NoticeKind.CANCELLED,
}


@written
def appointment_book(
    *,
    request: Request,
    station: Station,
    technician: Technician,
    day: date,
    minute: int,
    minutes: int,
    by: User | None = None,
    at: datetime | None = None,
    told_minute: int | None = None,
    p_wait: float | None = None,
    fixed: bool = False,
    plan_run: PlanRun | None = None,
    why: str = "",
    code: str = "",
) -> Appointment:
    """Book a request; ``day`` and ``minute`` are on the clock of the station's site.

    ``told_minute`` is ``minute`` rounded down to the terms' grain unless given; ``by`` None is a
    planning run. Raises DoesNotFit, SlotTaken, AlreadyBooked, StepRefused, BadValue, NotHere or
    Busy.
    """
    step = step_after(None, "book", by)
    require_here(by, request, station)
    span = visit_span(station.site.timezone, day, minute, minutes)
    hold(station, technician, request)
    require_fit(request=request, station=station, technician=technician, span=span)
    appointment = Appointment.objects.create(
        code=code or new_code(),
        request=request,
        subject_id=request.subject_id,
        station=station,
        technician=technician,
        told_minute=told(request, span, told_minute),
        p_wait=p_wait,
        fixed=fixed,
        step=step,
        why=why,
        plan_run=plan_run,
        **span,
    )
    happened(appointment, "book", step, by=by, at=at, why=why)
    return appointment


@written
def appointment_move(
    *,
    appointment: Appointment,
    station: Station,
    technician: Technician,
    day: date,
    minute: int,
    minutes: int,
    why: str,
    by: User | None = None,
    at: datetime | None = None,
    told_minute: int | None = None,
    p_wait: float | None = None,
    plan_run: PlanRun | None = None,
) -> Appointment:
    """Give an appointment another place or time, if it still is what the caller saw (``version``).

    Raises what `appointment_book` raises, and ChangedMeanwhile.
    """
    step = step_after(Step(appointment.step), "move", by)
    require_here(by, appointment, station)
    span = visit_span(station.site.timezone, day, minute, minutes)
    request = appointment.request
    hold(station, technician, request)
    require_fit(request=request, station=station, technician=technician, span=span)
    update(
        appointment,
        step=step,
        station=station,
        technician=technician,
        told_minute=told(request, span, told_minute),
        p_wait=p_wait,
        plan_run=plan_run,
        why=why,
        **span,
    )
    happened(appointment, "move", step, by=by, at=at, why=why)
    return appointment


@written
def appointment_step(
    *,
    appointment: Appointment,
    action: str,
    by: User | None = None,
    at: datetime | None = None,
    why: str = "",
) -> Appointment:
    """Take a step of the table that needs nothing else (not book, move, start or finish).

    Raises StepRefused, ChangedMeanwhile, SlotTaken (an arrival after a no-show whose place went to
    somebody else), NotHere or Busy.
    """
    if action in {"book", "move", "start", "finish"}:
        raise BadValue(action, "needs more than a step", f"use the service for '{action}'")
    require_here(by, appointment)
    return take_step(appointment, action, by=by, at=at, why=why)


def take_step(
    appointment: Appointment,
    action: str,
    *,
    by: User | None,
    at: datetime | None = None,
    why: str = "",
) -> Appointment:
    """Take any step, inside a service."""
    step = step_after(Step(appointment.step), action, by)
    update(appointment, step=step, **({"why": why} if why else {}))
    happened(appointment, action, step, by=by, at=at, why=why)
    return appointment


def update(appointment: Appointment, **values: Any) -> None:
    """Write values if nobody wrote since; the caller's object follows."""
    count = Appointment.objects.filter(
        pk=appointment.pk, version=appointment.version, step=appointment.step
    ).update(version=F("version") + 1, **values)
    if count != 1:
        raise ChangedMeanwhile(
            appointment.code, "was changed by somebody else", "read it again and decide anew"
        )
    appointment.refresh_from_db()


def hold(station: Station, technician: Technician, request: Request) -> None:
    """Stand in line for a station, a technician, a request: in one order, so few deadlocks come.

    The database refuses an overlap with or without. A request that is put on hold, or loses the
    site, at the same moment is read as it is afterwards. SQLite has one line.
    """
    for row in (station, technician, request):
        list(type(row)._default_manager.select_for_update(no_key=True).filter(pk=row.pk))


def told(request: Request, span: Span, given: int | None) -> int:
    """The time that the subject hears, in minutes past midnight."""
    grain = request.terms.grain_minutes
    minute = span["minute"] // grain * grain if given is None else given
    if not 0 <= minute <= span["minute"]:
        raise BadValue(f"told minute {minute}", "is not before the start", "tell an earlier time")
    return minute


def happened(
    appointment: Appointment,
    what: str,
    step: Step,
    *,
    by: User | None,
    at: datetime | None,
    why: str,
) -> None:
    """Keep that it happened, and raise a notice where the subject has to hear of it."""
    at = at or timezone.now()
    AppointmentEvent.objects.create(
        appointment=appointment, what=what, step=step, by=by, at=at, why=why
    )
    if what in NOTICES:
        Notice.objects.create(
            request_id=appointment.request_id,
            appointment=appointment,
            kind=NOTICES[what],
            raised_at=at,
            detail=why,
        )


def new_code() -> str:
    """A code that no other appointment has: 80 random bits."""
    return f"a-{secrets.token_hex(10)}"
