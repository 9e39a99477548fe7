"""Texts that somebody typed about a person, and references that the programme gave.

A note, a reason, a detail can say more of somebody than a name does. They go with the names
(`sites.selectors.retention`); the programme's own references go only where its terms say so
(``retention_references``), as they are what links a request to the programme's file. A test asks of
every column of text in the record whether it belongs here.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.db.models import Exists, OuterRef, Q, QuerySet

from sites.models import (
    Appointment,
    AppointmentEvent,
    ExternalReference,
    Hold,
    Notice,
    Override,
    Request,
    Response,
    Session,
    Subject,
)

GONE = "taken away by the programme's rule"
"""What stands where the database wants a reason."""
PURGED = "purged-"
"""How the reference of a subject begins whose own one was taken away."""


@dataclass(frozen=True, slots=True)
class Typed:
    """A column that somebody types into; ``subject`` leads from its row to the person.

    ``becomes`` is what stands there afterwards.
    """

    model: type[models.Model]
    column: str
    subject: str
    becomes: str = ""

    @property
    def name(self) -> str:
        """``Model.column``."""
        return f"{self.model.__name__}.{self.column}"

    def rows(self, **of: Any) -> QuerySet[Any]:
        """Rows that have a text; ``of`` narrows them to people."""
        rows: QuerySet[Any] = self.model._default_manager.filter(**of).order_by()
        return rows.exclude(**{f"{self.column}__in": ["", GONE]})

    def of(self, subjects: Collection[int] | QuerySet[Any]) -> QuerySet[Any]:
        """Those about these people, by key."""
        return self.rows(**{f"{self.subject}__in": subjects})


TYPED = (
    Typed(Request, "advice", "subject"),
    Typed(Request, "closed_why", "subject", GONE),
    Typed(Hold, "why", "request__subject", GONE),
    Typed(Appointment, "why", "subject"),
    Typed(AppointmentEvent, "why", "appointment__subject"),
    Typed(Session, "note", "appointment__subject"),
    Typed(Override, "reason", "session__appointment__subject", GONE),
    Typed(Response, "detail", "submission__request__subject"),
    Typed(Notice, "detail", "request__subject"),
)


def has_typed() -> Q:
    """The condition on subjects that anybody typed something about them."""
    found = Q(pk__in=[])
    for each in TYPED:
        found |= Q(Exists(each.rows(**{each.subject: OuterRef("pk")})))
    return found


def references_out() -> QuerySet[ExternalReference]:
    """The programme's references of requests that its terms let go."""
    return ExternalReference.objects.filter(request__terms__retention_references=True).order_by()


def subjects_to_rename(subjects: Iterable[int] | None = None) -> QuerySet[Subject]:
    """Subjects whose own reference goes: the terms of all their requests say so."""
    asked = Request.objects.filter(subject=OuterRef("pk")).order_by()
    rows = Subject.objects.filter(
        Exists(asked), ~Exists(asked.filter(terms__retention_references=False))
    ).exclude(reference__startswith=PURGED)
    return rows if subjects is None else rows.filter(pk__in=subjects)


def has_references() -> Q:
    """The condition on subjects that a reference of theirs goes with their names."""
    own = Q(pk__in=subjects_to_rename().order_by().values("pk"))
    return own | Q(Exists(references_out().filter(request__subject=OuterRef("pk"))))


def typed_count(subjects: QuerySet[Any]) -> int:
    """How many texts were typed about these people (a queryset of keys); a query a column."""
    return sum(each.of(subjects).count() for each in TYPED)


def references_count(subjects: QuerySet[Any]) -> int:
    """How many references go with these people (a queryset of keys), in two queries."""
    renamed = subjects_to_rename().filter(pk__in=subjects).count()
    return renamed + references_out().filter(request__subject__in=subjects).count()
