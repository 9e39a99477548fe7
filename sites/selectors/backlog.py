"""The backlog: open needs by age and by due date, and the time it takes to work it off."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Case, CharField, Count, Q, QuerySet, Value, When

from sites.models import Request
from sites.selectors.standing import OPEN, Standing, requests_standing
from sites.selectors.workdays import days_ago

WAITING = [each for each in OPEN if each != Standing.REWORK]
"""Open standings that count: a request whose rework was asked for is counted by its rework."""


@dataclass(frozen=True, slots=True)
class Band:
    """A range with a stable ``key``; days from ``first`` to ``last`` (None: without end)."""

    key: str
    words: str
    first: int | None
    last: int | None


AGES = (
    Band("0-5", "0 to 5", 0, 5),
    Band("6-10", "6 to 10", 6, 10),
    Band("11-20", "11 to 20", 11, 20),
    Band("21-40", "21 to 40", 21, 40),
    Band("over-40", "over 40", 41, None),
)
"""Working days since the request was received; our bands."""

DUES = (
    Band("past", "past due", None, -1),
    Band("week-1", "in 0 to 6 days", 0, 6),
    Band("week-2", "in 7 to 13 days", 7, 13),
    Band("later", "in 14 days or more", 14, None),
)
"""Calendar days from today to the due date; our bands."""


def age_is(band: Band, today: date) -> Q:
    """The condition on ``received`` of an age band (`AGES`)."""
    found = Q()
    if band.first:
        found &= Q(received__lte=days_ago(today, band.first))
    if band.last is not None:
        found &= Q(received__gt=days_ago(today, band.last + 1))
    return found


def due_is(band: Band, today: date) -> Q:
    """The condition on ``due`` of a band (`DUES`)."""
    found = Q()
    if band.first is not None:
        found &= Q(due__gte=today + timedelta(days=band.first))
    if band.last is not None:
        found &= Q(due__lte=today + timedelta(days=band.last))
    return found


def backlog(*, today: date, requests: QuerySet[Request]) -> dict[tuple[str, str], int]:
    """Open ones of these requests without an accepted set: counts by (age band, due band)."""
    rows = requests_standing(today=today, requests=requests, many=True).filter(standing__in=WAITING)
    counts = (
        rows.annotate(
            age=banded([(band, age_is(band, today)) for band in AGES]),
            falls=banded([(band, due_is(band, today)) for band in DUES]),
        )
        .order_by()
        .values_list("age", "falls")
        .annotate(count=Count("pk"))
    )
    return {(age, falls): count for age, falls, count in counts}


def intake(*, first: date, last: date, requests: QuerySet[Request]) -> int:
    """Needs received from ``first`` to ``last``, both included; rework is no new need."""
    return requests.filter(received__gte=first, received__lte=last, rework=False).count()


def banded(bands: list[tuple[Band, Q]]) -> Case:
    """The key of the first band that holds."""
    return Case(
        *(When(condition, then=Value(band.key)) for band, condition in bands if condition),
        default=Value(next((band.key for band, condition in bands if not condition), "")),
        output_field=CharField(),
    )
