"""Whose names and contact data have been kept as long as their programmes' rule says.

A request is over once its set was accepted or the need was closed; a returned request that has its
rework is over with the rework. Its terms say how many days the person's data stay after that
(``retention_days``, a parameter of the programme by date). Data of a person go when all requests of
theirs are over and every one of them has had its days. What stands open keeps them, however old.
With them go the texts that were typed about them (`sites.selectors.typed`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce, Length

from sites.models import ProgrammeVersion, Request, Response, ResponseKind, Subject
from sites.selectors.typed import has_references, has_typed

SEALED = ("given_name", "family_name", "phone", "email", "language")
PERSONAL: dict[str, Any] = {
    **dict.fromkeys(SEALED, ""),
    **dict.fromkeys(("family_name_key", "phone_key", "email_key"), ""),
    **dict.fromkeys(("needs_access", "needs_longer"), False),
}
"""What is taken away, and what it becomes. Figures read none of it."""


@dataclass(frozen=True, slots=True)
class Held:
    """Subjects with personal data, by why they keep it; ``due`` have kept it long enough.

    ``recent`` wait for the end of their days, ``open`` have a request that is not over, of these
    ``lapsed`` none that has not expired; ``without`` have no request that a time could begin with.
    """

    due: int
    recent: int
    open: int
    lapsed: int
    without: int


def subjects_personal() -> QuerySet[Subject]:
    """Subjects with any name, contact data, language, need or text about them.

    Sealed texts are asked for their length.
    """
    rows: QuerySet[Subject] = Subject.objects.annotate(
        **{f"len_{name}": Length(name) for name in SEALED}
    )
    there = Q(needs_access=True) | Q(needs_longer=True)
    for name in SEALED:
        there |= Q(**{f"len_{name}__gt": 0})
    return rows.filter(there | has_typed() | has_references())


def requests_ended() -> QuerySet[Any]:
    """Requests that no rework replaces, with ``over_at``: accepted or closed, None while open."""
    accepted = Response.objects.filter(
        submission__request=OuterRef("pk"), kind=ResponseKind.ACCEPTED
    ).order_by("-received_at")
    rows: QuerySet[Any] = Request.objects.annotate(
        over_at=Coalesce(Subquery(accepted.values("received_at")[:1]), "closed_at")
    )
    return rows.filter(Q(over_at__isnull=False) | Q(reworks__isnull=True))


def within_days(today: date) -> Q:
    """The condition on `requests_ended` that the days after the end are not over yet."""
    found = Q(pk__in=[])
    for version in ProgrammeVersion.objects.only("pk", "retention_days"):
        since = datetime.combine(today - timedelta(days=version.retention_days), time(tzinfo=UTC))
        found |= Q(terms=version.pk, over_at__gte=since)
    return found


def subjects_due(*, today: date) -> QuerySet[Subject]:
    """Subjects whose personal data have been kept long enough, by key; two queries."""
    mine = requests_ended().filter(subject=OuterRef("pk")).order_by()
    keep = mine.filter(Q(over_at__isnull=True) | within_days(today))
    asked = Request.objects.filter(subject=OuterRef("pk"))
    return subjects_personal().filter(Exists(asked), ~Exists(keep)).order_by("pk")


def subjects_held(*, today: date) -> Held:
    """How many subjects have personal data, and why they keep it; a few queries."""
    mine = requests_ended().filter(subject=OuterRef("pk")).order_by()
    asked = Exists(Request.objects.filter(subject=OuterRef("pk")))
    stands = mine.filter(over_at__isnull=True)
    lasting = stands.filter(Q(expires__isnull=True) | Q(expires__gte=today))
    rows = subjects_personal()
    whole, without = rows.count(), rows.filter(~asked).count()
    still = rows.filter(Exists(stands))
    kept, lapsed = still.count(), still.filter(~Exists(lasting)).count()
    due = subjects_due(today=today).count()
    return Held(due, whole - without - kept - due, kept, lapsed, without)


def by_programme(subjects: Any) -> dict[str, int]:
    """How many of these subjects each programme knows, by code; one of several counts in each."""
    rows = Request.objects.filter(subject__in=subjects).order_by()
    named = rows.values_list("terms__programme__code").annotate(n=Count("subject", distinct=True))
    return dict(named.order_by("terms__programme__code"))
