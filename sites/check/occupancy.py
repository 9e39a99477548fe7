"""Nobody and nothing is taken twice: by the occupancy, and by a look that does not trust it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db import connection

from sites.audit import keep as audit
from sites.check.finding import Finding
from sites.models import (
    OCCUPIES,
    Absence,
    Appointment,
    Break,
    CareOutcome,
    CareWindow,
    Downtime,
    Shift,
)
from sites.occupancy.keep import COLUMNS, all_due, triggers_missing
from sites.occupancy.sources import BY_NUMBER, KIND_WORDS, Kind

Taken = tuple[str, int, datetime, datetime, str]  # kind, resource, from, to, by what


def triggers_in_place() -> Iterator[Finding]:
    """Every trigger that refuses, fills or keeps the audit is there."""
    for name in [*triggers_missing(connection), *audit.triggers_missing(connection)]:
        yield Finding(
            f"trigger {name}", "is not there", "run manage.py migrate, which puts it back"
        )


def occupancy_is_what_is_due() -> Iterator[Finding]:
    """The occupancy says what its rows say, no more and no less."""
    stored, owed = "record_occupancy", f"({all_due()})"
    for first, second, problem in (
        (owed, stored, "takes time that the occupancy does not know of"),
        (stored, owed, "is kept as taken by a row that does not ask for it"),
    ):
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT {COLUMNS} FROM {first} AS a EXCEPT SELECT {COLUMNS} FROM {second} AS b"
            )
            rows = cursor.fetchall()
        for source, source_id, kind, resource, *_ in sorted(rows):
            yield Finding(
                f"{BY_NUMBER[source].name} {source_id}, {KIND_WORDS[Kind(kind)]} {resource}",
                problem,
                "run manage.py migrate, which makes the occupancy whole",
            )


def no_overlap() -> Iterator[Finding]:
    """Read the rows themselves, sort, and compare neighbours; the occupancy is not asked."""
    last: dict[tuple[str, int], Taken] = {}
    for taken in sorted(everything_taken(), key=lambda row: (row[0], row[1], row[2], row[3])):
        kind, resource, starts, ends, what = taken
        before = last.get((kind, resource))
        if before is not None and starts < before[3]:
            yield Finding(
                f"{kind} {resource}",
                f"is taken by {before[4]} and by {what} at {starts:%Y-%m-%d %H:%M} UTC",
                "move or cancel one of them",
            )
        if before is None or ends > before[3]:
            last[kind, resource] = taken


def everything_taken() -> Iterator[Taken]:
    """Every time that anything takes, from the tables of the record."""
    times = ("starts_at", "ends_at")
    rows = Appointment.objects.filter(step__in=OCCUPIES)
    for code, station, technician, subject, starts, ends in rows.values_list(
        "code", "station_id", "technician_id", "subject_id", *times
    ).iterator():
        what = f"appointment {code}"
        yield "station", station, starts, ends, what
        yield "technician", technician, starts, ends, what
        yield "subject", subject, starts, ends, what
    care = CareWindow.objects.filter(starts_at__isnull=False).exclude(outcome=CareOutcome.MISSED)
    for code, station, who, begins, closes in care.values_list(
        "code", "station_id", "technician_id", *times
    ).iterator():
        if begins is None or closes is None:
            continue
        yield "station", station, begins, closes, f"care {code}"
        if who is not None:
            yield "technician", who, begins, closes, f"care {code}"
    for key, station, starts, ends in Downtime.objects.values_list("pk", "station_id", *times):
        yield "station", station, starts, ends, f"downtime {key}"
    for key, who, starts, ends in Absence.objects.values_list("pk", "technician_id", *times):
        yield "technician", who, starts, ends, f"absence {key}"
    for key, who, starts, ends in Break.objects.values_list("pk", "technician_id", *times):
        yield "technician", who, starts, ends, f"break {key}"
    for key, who, starts, ends in Shift.objects.values_list("pk", "technician_id", *times):
        yield "shift of technician", who, starts, ends, f"shift {key}"


CHECKS = (triggers_in_place, occupancy_is_what_is_due, no_overlap)
