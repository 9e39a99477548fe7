"""The wall clock and the instants of a row say the same."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.db.models import F, QuerySet

from sites.check.finding import Finding
from sites.clock import visit_span, wall_span
from sites.errors import BadValue
from sites.models import Absence, Appointment, Break, CareWindow, Closure, Downtime, Shift

# The rows, the zone that their clock is in, and whether they last their minutes on any clock.
SPANS: tuple[tuple[QuerySet[Any], str, bool], ...] = (
    (Appointment.objects.all(), "station__site__timezone", True),
    (CareWindow.objects.filter(day__isnull=False), "station__site__timezone", True),
    (Break.objects.all(), "shift__site__timezone", True),
    (Shift.objects.all(), "site__timezone", False),
    (Closure.objects.all(), "site__timezone", False),
    (Downtime.objects.all(), "station__site__timezone", False),
    (Absence.objects.all(), "technician__home__timezone", False),
)


def wall_and_instants_agree() -> Iterator[Finding]:
    """Working the instants out again from the wall clock gives what is stored."""
    known: dict[tuple[Any, ...], tuple[datetime, datetime] | None] = {}
    for rows, zone, lasts in SPANS:
        name = rows.model._meta.verbose_name
        columns = rows.annotate(zone=F(zone)).values_list(
            "pk", "zone", "day", "minute", "minutes", "starts_at", "ends_at"
        )
        for key, where, day, minute, minutes, starts, ends in columns.iterator():
            asked = (where, day, minute, minutes, lasts)
            if asked not in known:
                known[asked] = again(where, day, minute, minutes, lasts=lasts)
            if known[asked] != (starts, ends):
                yield Finding(
                    f"{name} {key}",
                    f"says {day} minute {minute} in {where}, "
                    f"but starts {starts:%Y-%m-%d %H:%M} UTC",
                    "write it again through its service, which works the instants out",
                )


def again(
    zone: str, day: date, minute: int, minutes: int, *, lasts: bool
) -> tuple[datetime, datetime] | None:
    """The instants of a time on a wall clock; None where the clock has no such time."""
    try:
        span = (visit_span if lasts else wall_span)(zone, day, minute, minutes)
    except BadValue:
        return None
    return span["starts_at"], span["ends_at"]


CHECKS = (wall_and_instants_agree,)
