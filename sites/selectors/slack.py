"""Requests with the place they have and the days they can spare."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db.models import (
    DateField,
    DurationField,
    ExpressionWrapper,
    F,
    OuterRef,
    QuerySet,
    Subquery,
    Value,
)
from django.db.models.functions import Coalesce

from sites.models import OCCUPIES, Appointment, Request
from sites.selectors.standing import requests_standing
from sites.step import ACTIVE

PLACED = [step for step in ACTIVE if step in OCCUPIES]


def requests_slack(
    *, today: date, requests: QuerySet[Request], many: bool = False
) -> QuerySet[Any]:
    """`requests_standing` with ``booked_day`` (None: no place) and ``slack``.

    ``slack`` is the due date less the day of the appointment, or less ``today`` where there is
    none: the calendar days that can still be lost before the request is late; below 0 it is late.
    """
    return with_slack(requests_standing(today=today, requests=requests, many=many), today)


def with_slack(requests: QuerySet[Any], today: date) -> QuerySet[Any]:
    """Requests with ``booked_day`` and ``slack``, as `requests_slack` says."""
    placed = Appointment.objects.filter(request=OuterRef("pk"), step__in=PLACED)
    reference = Coalesce("booked_day", Value(today), output_field=DateField())
    rows: QuerySet[Any] = requests.annotate(booked_day=Subquery(placed.values("day")[:1]))
    left = ExpressionWrapper(F("due") - reference, output_field=DurationField())
    found: QuerySet[Any] = rows.annotate(slack=left)
    return found


def booked_at(requests: list[Request]) -> dict[int, Appointment]:
    """The appointment that each of these requests has a place by, in one query, by request."""
    rows = Appointment.objects.filter(request__in=requests, step__in=PLACED)
    return {row.request_id: row for row in rows.select_related("station__site")}
