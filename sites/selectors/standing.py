"""Where a request stands: read from what happened, in one query, never set by hand."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, TypedDict

from django.db.models import (
    BooleanField,
    Case,
    CharField,
    Exists,
    ExpressionWrapper,
    F,
    FilteredRelation,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    TextChoices,
    Value,
    When,
)

from sites.models import (
    ACTIVE,
    ExceptionRoute,
    Hold,
    Request,
    Response,
    ResponseKind,
    Session,
    Submission,
)
from sites.models.session import SessionEnd
from sites.selectors.holds import in_force
from sites.step import Step

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations


class Standing(TextChoices):
    """Where a request stands, from the end of its way to the beginning."""

    CLOSED = "closed", "Closed without a set"
    ACCEPTED = "accepted", "Accepted"
    REWORK = "rework", "Returned: rework asked for"
    EXCEPTION = "exception", "Exception route: check asked for"
    RETURNED_UNREAD = "returned_unread", "Returned, not read"
    RETURNED_IMAGE = "returned_image", "Returned: subject to come again"
    RETURNED_DATA = "returned_data", "Returned: data to correct"
    RETURNED_TRANSMISSION = "returned_transmission", "Returned: to send again"
    SENT = "sent", "Sent, no response"
    UNDERWAY = "underway", "Session under way"
    ARRIVED = "arrived", "Arrived"
    BOOKED = "booked", "Booked"
    ON_HOLD = "on_hold", "On hold"
    DISPLACED = "displaced", "Lost its place"
    CAPTURED = "captured", "Captured, not sent"
    EXPIRED = "expired", "Expired"
    TO_BOOK = "to_book", "To book"


OPEN = [each for each in Standing if each not in {Standing.CLOSED, Standing.ACCEPTED}]


class StandingFields(TypedDict):
    """What `requests_standing` adds to a request."""

    standing: str
    active_step: str | None
    last_submission: int | None
    answered_submission: int | None
    last_response: str | None
    last_read: datetime | None
    has_accepted: bool
    has_rework: bool
    has_exception: bool
    has_unsent: bool
    has_sent: bool
    held: bool
    waiting: str


def requests_standing(
    *, today: date, requests: QuerySet[Request], many: bool = False
) -> QuerySet[WithAnnotations[Request, StandingFields]]:
    """These requests with ``standing``, ``active_step`` and ``last_response`` (may be None each).

    A later event wins: a set that was captured but not sent yet stands behind a booking made after
    it. ``today`` decides what has expired. ``many``: most of the record is asked about, so what
    happened is gathered once and not looked up request by request; the answer is the same.
    """
    last_sent = Submission.objects.filter(request=OuterRef("pk")).order_by("-sent_at", "-id")
    response = Response.objects.filter(submission__request=OuterRef("pk")).order_by(
        "-submission__sent_at", "-submission_id"
    )
    found: Any = (
        requests.annotate(
            active=FilteredRelation("appointments", condition=Q(appointments__step__in=ACTIVE))
        )
        .annotate(
            active_step=F("active__step"),
            last_submission=Subquery(last_sent.values("id")[:1]),
            answered_submission=Subquery(response.values("submission_id")[:1]),
            last_response=Subquery(response.values("kind")[:1]),
            last_read=Subquery(response.values("read_at")[:1]),
            **{
                name: among(rows, path) if many else Exists(rows.filter(**{path: OuterRef("pk")}))
                for name, rows, path in happened(today)
            },
        )
        .annotate(waiting=pending())
        .annotate(standing=standing_case(today))
    )
    return found  # type: ignore[no-any-return]


def happened(today: date) -> Iterator[tuple[str, QuerySet[Any], str]]:
    """What can be so of a request: its name, the rows that say so, and their way to the request."""
    accepted = Response.objects.filter(kind=ResponseKind.ACCEPTED)
    yield "has_accepted", accepted, "submission__request"
    yield "has_rework", Request.objects.filter(rework_of__isnull=False), "rework_of"
    yield "has_exception", ExceptionRoute.objects.filter(asked_at__isnull=False), "request"
    unsent = Session.objects.filter(
        ended_how__in=[SessionEnd.COMPLETE, SessionEnd.OVERRIDE], submissions__isnull=True
    )
    yield "has_unsent", unsent, "appointment__request"
    yield "has_sent", Submission.objects.all(), "request"
    yield "held", Hold.objects.filter(in_force(today)), "request"


def among(rows: QuerySet[Any], path: str) -> ExpressionWrapper[Q]:
    """Whether a request is one that ``path`` leads to from these rows, none of them empty."""
    return ExpressionWrapper(Q(pk__in=rows.order_by().values(path)), BooleanField())


def pending() -> Case:
    """Whether the last submission has no response yet."""
    return Case(
        When(has_sent=False, then=Value("none")),
        When(last_submission=F("answered_submission"), then=Value("answered")),
        default=Value("pending"),
        output_field=CharField(),
    )


def standing_case(today: date) -> Case:
    """The first of these that holds is where the request stands."""
    never_sent = Case(
        When(expires__lt=today, then=Value(Standing.EXPIRED)),
        When(held=True, then=Value(Standing.ON_HOLD)),
        default=Value(Standing.TO_BOOK),
    )
    return Case(
        When(has_accepted=True, then=Value(Standing.ACCEPTED)),
        When(closed_at__isnull=False, then=Value(Standing.CLOSED)),
        When(has_rework=True, then=Value(Standing.REWORK)),
        When(has_exception=True, then=Value(Standing.EXCEPTION)),
        When(active_step=Step.UNDERWAY, then=Value(Standing.UNDERWAY)),
        When(active_step=Step.ARRIVED, then=Value(Standing.ARRIVED)),
        When(active_step=Step.BOOKED, then=Value(Standing.BOOKED)),
        When(active_step=Step.DISPLACED, held=True, then=Value(Standing.ON_HOLD)),
        When(active_step=Step.DISPLACED, then=Value(Standing.DISPLACED)),
        When(has_unsent=True, then=Value(Standing.CAPTURED)),
        When(waiting="none", then=never_sent),
        When(waiting="pending", then=Value(Standing.SENT)),
        When(last_read__isnull=True, then=Value(Standing.RETURNED_UNREAD)),
        When(last_response=ResponseKind.IMAGE, then=Value(Standing.RETURNED_IMAGE)),
        When(last_response=ResponseKind.DATA, then=Value(Standing.RETURNED_DATA)),
        default=Value(Standing.RETURNED_TRANSMISSION),
        output_field=CharField(),
    )
