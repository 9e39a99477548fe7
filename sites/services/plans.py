"""Keeping what a planning run decided: many appointments, care windows and breaks in one write."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F
from django.utils import timezone

from sites.access import require_here
from sites.clock import visit_span
from sites.errors import ChangedMeanwhile
from sites.models import (
    Appointment,
    AppointmentEvent,
    Break,
    CareWindow,
    Notice,
    PlanRun,
    RunState,
    Shift,
    Station,
    Technician,
    User,
)
from sites.services.appointments import NOTICES, new_code
from sites.services.write import written
from sites.step import Step
from sites.steps import step_after

BATCH = 500


@dataclass(frozen=True, slots=True)
class Seat:
    """A place for a request; ``appointment`` is the one that moves there, None for a new one."""

    request: int
    subject: int
    station: Station
    technician: Technician
    day: date
    minute: int
    minutes: int
    told_minute: int
    p_wait: float
    appointment: Appointment | None = None

    @property
    def values(self) -> dict[str, Any]:
        """The columns of the appointment."""
        span = visit_span(self.station.site.timezone, self.day, self.minute, self.minutes)
        return {
            "station": self.station,
            "technician": self.technician,
            "told_minute": self.told_minute,
            "p_wait": self.p_wait,
            **span,
        }


@dataclass(frozen=True, slots=True)
class CareSeat:
    """A time for care; ``window`` may be new. ``day`` None takes its time away."""

    window: CareWindow
    day: date | None
    minute: int
    technician: Technician | None


@dataclass(frozen=True, slots=True)
class BreakSeat:
    """A time for a shift's break."""

    shift: Shift
    day: date
    minute: int


@written
def plan_keep(
    *,
    run: PlanRun,
    seats: Sequence[Seat],
    drops: Sequence[Appointment],
    care: Sequence[CareSeat],
    breaks: Sequence[BreakSeat],
    why: str,
    outcome: dict[str, Any] | None = None,
    by: User | None = None,
    at: datetime | None = None,
) -> PlanRun:
    """Write it all or nothing. Whoever moves first leaves the old place, so that two can swap.

    ``run`` is new, or was accepted in this transaction; ``outcome`` is kept with it.

    The caller has checked that each request, station and technician can take it; what overlaps is
    refused by the database. Raises StepRefused, SlotTaken, AlreadyBooked, ChangedMeanwhile, Busy.
    """
    places = {seat.station for seat in seats} | {seat.window.station for seat in care}
    require_here(by, *places, *drops)
    at = at or timezone.now()
    _remember(run, outcome, by, at)
    moves = [seat for seat in seats if seat.appointment is not None]
    booked = step_after(None, "book", by)
    _free(moves, drops, care, breaks)
    for window in sorted(care, key=lambda each: (each.window.station_id, each.minute)):
        _place_care(window)
    _place_breaks(breaks)
    happened: list[tuple[Appointment, str, Step]] = []
    unheard = _told_alike(moves)
    for seat in sorted(moves, key=_line):
        one = seat.appointment
        if one is not None:
            step = step_after(Step(one.step), "move", by)
            _update(one, Step.DISPLACED, step=step, why=why, plan_run=run, **seat.values)
            happened.append((one, "move", step))
    for one in drops:
        step = step_after(Step(one.step), "displace", by)
        _update(one, Step.DISPLACED, step=step, why=why, plan_run=run)
        happened.append((one, "displace", step))
    new = Appointment.objects.bulk_create(
        (
            Appointment(
                code=new_code(),
                request_id=seat.request,
                subject_id=seat.subject,
                step=booked,
                why=why,
                plan_run=run,
                **seat.values,
            )
            for seat in sorted(seats, key=_line)
            if seat.appointment is None
        ),
        batch_size=BATCH,
    )
    happened += [(one, "book", booked) for one in new]
    _tell(happened, unheard, why=why, by=by, at=at)
    return run


def _told_alike(moves: Sequence[Seat]) -> set[int]:
    """Appointments whose subject hears the same site, day and time as before: nobody to tell."""
    olds = {one.station_id for seat in moves if (one := seat.appointment) is not None}
    sites = dict(Station.objects.filter(pk__in=olds).values_list("pk", "site_id"))
    return {
        one.pk
        for seat in moves
        if (one := seat.appointment) is not None
        and one.step != Step.DISPLACED
        and (sites[one.station_id], one.day, one.told_minute)
        == (seat.station.site_id, seat.day, seat.told_minute)
    }


def _remember(run: PlanRun, outcome: dict[str, Any] | None, by: User | None, at: datetime) -> None:
    """Keep the run with what comes of it; one that nobody asked for begins and ends here."""
    run.outcome = outcome
    if run.pk is None:
        run.by = run.kept_by = by
        run.state = RunState.KEPT
        run.started_at = run.ended_at = run.kept_at = at
        run.save()
    else:
        PlanRun.objects.filter(pk=run.pk).update(outcome=outcome, note=run.note)


def _line(seat: Seat) -> tuple[int, date, int]:
    """One order for all writers, so that few deadlocks come."""
    return seat.station.pk, seat.day, seat.minute


def _free(
    moves: Iterable[Seat],
    drops: Iterable[Appointment],
    care: Iterable[CareSeat],
    breaks: Iterable[BreakSeat],
) -> None:
    """Take everything that moves from its old place."""
    for one in [*(seat.appointment for seat in moves), *drops]:
        if one is not None and one.step != Step.DISPLACED:
            count = Appointment.objects.filter(
                pk=one.pk, version=one.version, step=Step.BOOKED
            ).update(step=Step.DISPLACED)
            if count != 1:
                raise _changed(one.code)
    windows = [each.window.pk for each in care if each.window.pk is not None]
    for start in range(0, len(windows), BATCH):
        CareWindow.objects.filter(pk__in=windows[start : start + BATCH]).update(
            day=None, minute=None, starts_at=None, ends_at=None, technician=None
        )
    shifts = [each.shift.pk for each in breaks]
    for start in range(0, len(shifts), BATCH):
        Break.objects.filter(shift__in=shifts[start : start + BATCH]).delete()


def _update(one: Appointment, seen: Step, **values: Any) -> None:
    count = Appointment.objects.filter(pk=one.pk, version=one.version, step=seen).update(
        version=F("version") + 1, **values
    )
    if count != 1:
        raise _changed(one.code)


def _place_care(seat: CareSeat) -> None:
    window, span = seat.window, {}
    if seat.day is not None:
        zone = window.station.site.timezone
        span = dict(visit_span(zone, seat.day, seat.minute, window.minutes))
    if window.pk is None:
        for name, value in {**span, "technician": seat.technician}.items():
            setattr(window, name, value)
        window.save(force_insert=True)
        return
    count = CareWindow.objects.filter(pk=window.pk, outcome="", fixed=False).update(
        technician=seat.technician, **span
    )
    if count != 1:
        raise _changed(window.code)


def _place_breaks(breaks: Iterable[BreakSeat]) -> None:
    Break.objects.bulk_create(
        (
            Break(
                shift=seat.shift,
                technician_id=seat.shift.technician_id,
                **visit_span(
                    seat.shift.site.timezone, seat.day, seat.minute, seat.shift.break_minutes
                ),
            )
            for seat in sorted(breaks, key=lambda each: each.shift.pk)
        ),
        batch_size=BATCH,
    )


def _tell(
    happened: Sequence[tuple[Appointment, str, Step]],
    unheard: set[int],
    *,
    why: str,
    by: User | None,
    at: datetime,
) -> None:
    """Keep what happened, and raise the notices of whoever hears something new."""
    AppointmentEvent.objects.bulk_create(
        (
            AppointmentEvent(appointment=one, what=what, step=step, by=by, at=at, why=why)
            for one, what, step in happened
        ),
        batch_size=BATCH,
    )
    Notice.objects.bulk_create(
        (
            Notice(
                request_id=one.request_id,
                appointment=one,
                kind=NOTICES[what],
                raised_at=at,
                detail=why,
            )
            for one, what, _ in happened
            if one.pk not in unheard
        ),
        batch_size=BATCH,
    )


def _changed(code: str) -> ChangedMeanwhile:
    return ChangedMeanwhile(code, "was changed by somebody else", "read it again and decide anew")
