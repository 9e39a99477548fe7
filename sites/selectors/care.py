"""Scanner care that falls due: by days since the last time, or by captures since then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, TypedDict

from django.db.models import Count, OuterRef, Q, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from sites.clock import wall
from sites.models import Attempt, CareOutcome, CareRule, CareWindow, ScannerPlacement, Station

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

LONG_AGO = datetime(1970, 1, 1, tzinfo=UTC)


class Past(TypedDict):
    """What `rules_with_past` adds to a rule."""

    last_at: datetime | None
    since: datetime
    captures: int


@dataclass(frozen=True, slots=True)
class CareDue:
    """What a rule asks for next. ``due`` is the day, ``late`` the day after which grace is over.

    ``last`` is the day it was done last, None for never; ``captures`` is the count since then.
    """

    rule: CareRule
    station: Station
    last: date | None
    captures: int
    due: date
    late: date


def scanner_placement(*, station: Station, day: date) -> ScannerPlacement | None:
    """The scanner that stands on a station on a day."""
    rows = station.placements.filter(starts_on__lte=day).select_related("scanner")
    return rows.filter(Q(ends_on__isnull=True) | Q(ends_on__gt=day)).first()


def care_due(*, stations: Iterable[Station], today: date) -> list[CareDue]:
    """What every rule of the scanners on these stations asks for next, by day, in two queries.

    Days count from the day it was done last, or from the day the scanner was put there; captures
    that have reached their number make it due today.
    """
    placed = {
        row.scanner_id: row
        for row in ScannerPlacement.objects.filter(station__in=stations, starts_on__lte=today)
        .filter(Q(ends_on__isnull=True) | Q(ends_on__gt=today))
        .select_related("station__site")
    }
    result = []
    for rule in rules_with_past().filter(scanner__in=placed):
        place = placed[rule.scanner_id]
        last = None if rule.last_at is None else wall(place.station.site.timezone, rule.last_at)[0]
        days = []
        if rule.every_days is not None:
            days.append((last or place.starts_on) + timedelta(days=rule.every_days))
        if rule.every_captures is not None and rule.captures >= rule.every_captures:
            days.append(today)
        if days:
            due = min(days)
            late = due + timedelta(days=rule.grace_days)
            result.append(CareDue(rule, place.station, last, rule.captures, due, late))
    return sorted(result, key=lambda row: (row.due, row.station.code, row.rule.kind))


def rules_with_past() -> QuerySet[WithAnnotations[CareRule, Past]]:
    """Care rules with when it was done last, and first attempts on the scanner since then."""
    done = CareWindow.objects.filter(
        scanner=OuterRef("scanner"), kind=OuterRef("kind"), outcome=CareOutcome.DONE
    ).order_by("-closed_at")
    taken = (
        Attempt.objects.filter(
            session__scanner=OuterRef("scanner"),
            session__started_at__gt=OuterRef("since"),
            number=1,
        )
        .order_by()
        .values("session__scanner")
        .annotate(count=Count("pk"))
    )
    return (
        CareRule.objects.select_related("scanner")
        .annotate(last_at=Subquery(done.values("closed_at")[:1]))
        .annotate(since=Coalesce("last_at", Value(LONG_AGO)))
        .annotate(captures=Coalesce(Subquery(taken.values("count")), 0))
    )
