"""Returned requests: at which step they are, and how long ago they came back."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from sites.models import Request, Response, ResponseKind
from sites.selectors.standing import Standing, requests_standing
from sites.selectors.workdays import working_days


@dataclass(frozen=True, slots=True)
class ReturnStep:
    """A step between the return and the next submission; ``where`` finds its requests."""

    key: str
    words: str
    where: Q


STEPS = (
    ReturnStep("unread", "not read", Q(standing=Standing.RETURNED_UNREAD)),
    ReturnStep(
        "to-contact",
        "image: subject to contact",
        Q(standing=Standing.RETURNED_IMAGE, contacted__isnull=True),
    ),
    ReturnStep(
        "to-ask",
        "image: contacted, rework to ask for",
        Q(standing=Standing.RETURNED_IMAGE, contacted__isnull=False),
    ),
    ReturnStep(
        "to-book",
        "rework to book",
        Q(rework=True, standing__in=[Standing.TO_BOOK, Standing.DISPLACED, Standing.EXPIRED]),
    ),
    ReturnStep("booked", "rework booked", Q(rework=True, standing=Standing.BOOKED)),
    ReturnStep("data", "data to correct", Q(standing=Standing.RETURNED_DATA)),
    ReturnStep("again", "to send again", Q(standing=Standing.RETURNED_TRANSMISSION)),
)
BY_KEY = {step.key: step for step in STEPS}
AGES = (("0-1", 0, 1), ("2-5", 2, 5), ("6-10", 6, 10), ("over 10", 11, 10**6))
"""Working days since the response was received; our bands."""


def requests_returned(
    *, today: date, requests: QuerySet[Request], many: bool = False
) -> QuerySet[Any]:
    """`requests_standing` with ``contacted`` and ``came_back`` of the return each one answers to.

    For a rework that has not been sent on yet it is the return of the request it replaces.
    """
    back = Response.objects.exclude(kind=ResponseKind.ACCEPTED).order_by("-received_at")
    own = back.filter(submission__request=OuterRef("pk"))
    before = back.filter(submission__request=OuterRef("rework_of"))
    return requests_standing(today=today, requests=requests, many=many).annotate(
        contacted=Subquery(own.values("contacted_at")[:1]),
        came_back=Coalesce(
            Subquery(own.values("received_at")[:1]), Subquery(before.values("received_at")[:1])
        ),
    )


def returned_by_step(*, today: date, requests: QuerySet[Request]) -> dict[str, Counter[str]]:
    """These requests at each step (`STEPS`), counted by age (`AGES`), in a query a step."""
    found: dict[str, Counter[str]] = {}
    rows = requests_returned(today=today, requests=requests)
    for step in STEPS:
        dates = rows.filter(step.where).values_list("came_back")
        found[step.key] = Counter(
            band_of(today if came is None else came.date(), today) for (came,) in dates
        )
    return found


def band_of(came_back: date, today: date) -> str:
    """The age band of a day on which something came back."""
    age = working_days(came_back, today)
    return next(key for key, first, last in AGES if first <= age <= last)
