"""Technicians of the record: skills, certificates, and shifts less what takes them elsewhere."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Prefetch, Q

from planner.engine import network as engine
from planner.engine.network import Window
from planner.gateway.record.horizon import Horizon, less
from sites.models import Absence, Shift, Site, Technician

Busy = tuple[datetime, datetime]


def find_technicians(sites: Iterable[Site], horizon: Horizon) -> list[Technician]:
    """Whoever is at home at these sites or has a shift there, with what a plan must know."""
    here = list(sites)
    recent = Q(day__lte=horizon.last_day, ends_at__gt=horizon.since)
    shifts = Shift.objects.filter(recent, site__in=here).select_related("site")
    working = Shift.objects.filter(
        site__in=here, day__gte=horizon.first_day, day__lte=horizon.last_day
    )
    rows = Technician.objects.filter(
        Q(home__in=here) | Q(pk__in=working.values("technician"))
    ).order_by("code")
    return list(
        rows.prefetch_related(
            "skills",
            "certifications",
            Prefetch("shifts", shifts),
            Prefetch("absences", Absence.objects.filter(recent)),
        )
    )


def engine_technician(
    technician: Technician, busy: Iterable[Busy], horizon: Horizon
) -> engine.Technician:
    """Shifts in the horizon on days with a valid certificate, less absences and ``busy`` times."""
    away = [(row.starts_at, row.ends_at) for row in technician.absences.all()]
    shifts: list[engine.Shift] = []
    for row in technician.shifts.all():
        start = horizon.minute(row.day, row.minute)
        if not horizon.reaches(start, start + row.minutes) or not certified(technician, row.day):
            continue
        cuts = [
            horizon.window(row.site.timezone, *times)
            for times in (*away, *busy)
            if times[0] < row.ends_at and times[1] > row.starts_at
        ]
        shifts += pieces(row, start, cuts, horizon)
    skills = tuple(sorted(each.code for each in technician.skills.all()))
    return engine.Technician(technician.code, skills, tuple(sorted(shifts, key=_start)))


def certified(technician: Technician, day: date) -> bool:
    """Whether a certificate is valid on the day; whose certificates are not kept, always is."""
    rows = technician.certifications.all()
    return not rows or any(row.starts_on <= day < row.expires_on for row in rows)


def pieces(row: Shift, start: int, cuts: list[Window], horizon: Horizon) -> list[engine.Shift]:
    """A shift without its cuts; the break goes to the first piece with room for it, if any has."""
    end = start + row.minutes
    earliest, last = start, end
    if row.break_from is not None and row.break_to is not None:
        earliest = horizon.minute(row.day, row.break_from)
        last = horizon.minute(row.day, row.break_to)
    owed = row.break_minutes
    found = []
    for piece in less(start, end, cuts):
        room = min(piece.end, last) - max(piece.start, earliest)
        minutes = owed if owed and room >= owed else 0
        window = (earliest, last) if minutes else (piece.start, piece.end)
        found.append(engine.Shift(row.site.code, piece.start, piece.end, minutes, *window))
        owed -= minutes
    return found


def _start(shift: engine.Shift) -> int:
    return shift.start
