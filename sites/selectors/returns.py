"""The desk's queue of returns: what is to be done about each, and for how many working days.

Returns are read every working day and the subject contacted (31 Miss. Code R. 1-10.20).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import (
    Case,
    CharField,
    Exists,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    TextChoices,
    Value,
    When,
)

from sites.models import (
    ExceptionRoute,
    Request,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Submission,
)
from sites.selectors.workdays import days_ago, working_days


class Todo(TextChoices):
    """What a return still asks of the desk, in the order of its way."""

    READ = "read", "To read"
    CONTACT = "contact", "Subject to contact"
    ASK = "ask", "Rework to ask for"
    FIX = "fix", "Data to correct and send again"
    SEND = "send", "To send again"
    DONE = "done", "Nothing"


DESK = (Todo.FIX, Todo.SEND)
"""Returns that take no station time."""
AGES = (("0-1", 0, 1), ("2-5", 2, 5), ("6-10", 6, 10), ("over 10", 11, 10**6))
"""Working days since the response came; our bands."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """One return of the queue: what is to be done, and its age in working days."""

    response: Response
    todo: Todo
    age: int

    @property
    def band(self) -> str:
        """Its band of `AGES`."""
        return band_of(self.age)

    @property
    def word(self) -> str:
        """*late* where a working day went by unread or untold, else "". A word, not a colour."""
        if self.todo in (Todo.READ, Todo.CONTACT):
            return "late" if self.age > 1 else ""
        return "waits" if self.age > 5 else ""


def returns_todo(*, responses: QuerySet[Response]) -> QuerySet[Any]:
    """Those of ``responses`` that asked for something, each with ``todo`` and ``reworked``."""
    later = Submission.objects.filter(
        request=OuterRef("submission__request"), sent_at__gte=OuterRef("received_at")
    ).exclude(pk=OuterRef("submission"))
    rework = Request.objects.filter(rework_of=OuterRef("submission__request"))
    route = ExceptionRoute.objects.filter(request=OuterRef("submission__request"))
    image = Q(kind=ResponseKind.IMAGE)
    closed = Q(submission__request__closed_at__isnull=False)
    settled = Q(reworked__isnull=False) | Q(excepted=True) | Q(sent_again=True)
    return (
        responses.exclude(kind=ResponseKind.ACCEPTED)
        .annotate(
            reworked=Subquery(rework.values("reference")[:1]),
            excepted=Exists(route.filter(asked_at__isnull=False)),
            sent_again=Exists(later),
        )
        .annotate(
            todo=Case(
                When(read_at__isnull=True, then=Value(Todo.READ)),
                When(closed, then=Value(Todo.DONE)),
                When(image & Q(contacted_at__isnull=True), then=Value(Todo.CONTACT)),
                When(settled, then=Value(Todo.DONE)),
                When(image, then=Value(Todo.ASK)),
                When(kind=ResponseKind.DATA, then=Value(Todo.FIX)),
                default=Value(Todo.SEND),
                output_field=CharField(),
            )
        )
    )


def returns_waiting(*, rows: QuerySet[Any], today: date) -> list[Waiting]:
    """Those of ``rows`` (of `returns_todo`) that still ask for something, the oldest first."""
    found = (
        rows.exclude(todo=Todo.DONE)
        .select_related("submission__request", "submission__session__appointment__station__site")
        .order_by("received_at", "pk")
    )
    return [Waiting(row, Todo(row.todo), age_of(row.received_at, today)) for row in found]


def returns_by_age(waiting: list[Waiting]) -> dict[Todo, Counter[str]]:
    """The ageing table: how many wait at each step, by band of age."""
    found: dict[Todo, Counter[str]] = {todo: Counter() for todo in Todo if todo != Todo.DONE}
    for each in waiting:
        found[each.todo][each.band] += 1
    return found


def returns_aged(*, rows: QuerySet[Any], band: str, today: date) -> QuerySet[Any]:
    """Those of ``rows`` whose age lies in a band of `AGES`."""
    first, last = next((first, last) for key, first, last in AGES if key == band)
    found = rows.filter(received_at__date__lte=days_ago(today, first)) if first else rows
    if band == AGES[-1][0]:
        return found
    return found.filter(received_at__date__gt=days_ago(today, last + 1))


def control_numbers_returned(*, request: Request) -> QuerySet[Submission, str]:
    """Control numbers of a request's sets that came back, the newest first."""
    return (
        Submission.objects.filter(request=request, response__isnull=False)
        .exclude(response__kind=ResponseKind.ACCEPTED)
        .order_by("-sent_at", "-pk")
        .values_list("control_number", flat=True)
    )


def age_of(received: datetime, today: date) -> int:
    """Working days from the day of the response until today."""
    return working_days(received.date(), today)


def band_of(age: int) -> str:
    """The band that an age lies in."""
    return next(key for key, first, last in AGES if first <= age <= last)


def routes_open(*, today: date, requests: QuerySet[Request]) -> QuerySet[ExceptionRoute]:
    """Exception routes of these requests that nobody has asked for yet, by closing date."""
    return (
        ExceptionRoute.objects.filter(
            asked_at__isnull=True,
            closes_on__gte=today,
            request__closed_at__isnull=True,
            request__reworks__isnull=True,
            request__in=requests,
        )
        .select_related("request")
        .order_by("closes_on", "pk")
    )


@dataclass(frozen=True, slots=True)
class Unsent:
    """A complete set that was not sent on, and the working days since its session ended."""

    session: Session
    age: int

    @property
    def word(self) -> str:
        """*late* after one business day (11 Ill. Adm. Code 1800.1240), else ""."""
        return "late" if self.age > 1 else ""


def sessions_unsent(*, rows: QuerySet[Session]) -> QuerySet[Session]:
    """Of these sessions those whose complete set was not sent on."""
    return rows.filter(
        ended_how__in=[SessionEnd.COMPLETE, SessionEnd.OVERRIDE],
        ended_at__isnull=False,
        submissions__isnull=True,
        appointment__request__closed_at__isnull=True,
    ).select_related("appointment__request", "appointment__station__site")


def sets_unsent(*, today: date, rows: QuerySet[Session], most: int) -> tuple[list[Unsent], int]:
    """Of these sessions those whose complete set was not sent on, and how many there are.

    The oldest first, ``most`` at most. Two queries.
    """
    found = sessions_unsent(rows=rows)
    oldest = [
        Unsent(row, age_of(row.ended_at, today))
        for row in found.order_by("ended_at", "pk")[:most]
        if row.ended_at is not None
    ]
    return oldest, found.count()
