"""Who has a time already."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from sites.models import Occupancy
from sites.occupancy.sources import BY_NUMBER, KIND_WORDS, Kind


@dataclass(frozen=True, slots=True)
class Taken:
    """One thing that stands in the way: what is taken, and by which row."""

    kind: Kind
    resource: int
    source: str
    source_id: int

    def __str__(self) -> str:
        what = {"carewindow": "scanner care"}.get(self.source, self.source)
        return f"{KIND_WORDS[self.kind]} taken by {what} {self.source_id}"


def minute_of(at: datetime, *, up: bool = False) -> int:
    """Whole minutes since 1970-01-01 UTC, rounded down, or up for an end."""
    seconds = at.timestamp()
    return int(-(-seconds // 60)) if up else int(seconds // 60)


def occupied_by(
    resources: Iterable[tuple[Kind, int]],
    starts_at: datetime,
    ends_at: datetime,
    *,
    besides: tuple[int, int] | None = None,
) -> list[Taken]:
    """What has any of these resources in ``[starts_at, ends_at)``, but for one source row."""
    wanted = Q()
    for kind, resource in resources:
        wanted |= Q(kind=kind, resource=resource)
    rows = Occupancy.objects.filter(
        wanted, starts__lt=minute_of(ends_at, up=True), ends__gt=minute_of(starts_at)
    )
    if besides:
        rows = rows.exclude(source=besides[0], source_id=besides[1])
    return [
        Taken(Kind(row.kind), row.resource, BY_NUMBER[row.source].name, row.source_id)
        for row in rows.order_by("kind", "resource", "starts")
    ]
