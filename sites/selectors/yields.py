"""What sessions and submissions came to in a period; ``first`` and ``last`` are both included.

Each is counted over the rows it is given: those that somebody sees (`sites.access`), or all.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from sites.models import Appointment, Response, ResponseKind, Session, Submission
from sites.selectors.shares import Share, share
from sites.step import Step


def instants(first: date, last: date) -> tuple[datetime, datetime]:
    """The instants from ``first`` until after ``last``, by the date in UTC."""
    zero = time(tzinfo=UTC)
    return datetime.combine(first, zero), datetime.combine(last + timedelta(days=1), zero)


def first_answers(responses: QuerySet[Response], first: date, last: date) -> QuerySet[Response]:
    """Responses of a period to first submissions of needs (no rework, nothing sent before)."""
    starts, ends = instants(first, last)
    earlier = Submission.objects.filter(
        request=OuterRef("submission__request"), sent_at__lt=OuterRef("submission__sent_at")
    )
    return responses.filter(
        ~Exists(earlier),
        received_at__gte=starts,
        received_at__lt=ends,
        submission__request__rework=False,
    )


def first_pass_yield(*, first: date, last: date, responses: QuerySet[Response]) -> Share:
    """Share of answered first submissions that were accepted.

    A set that was sent and not answered yet is in neither number.
    """
    found = first_answers(responses, first, last).aggregate(
        n=Count("pk"), hits=Count("pk", filter=Q(kind=ResponseKind.ACCEPTED))
    )
    return share(found["hits"], found["n"])


def first_pass_yield_by_site(
    *, first: date, last: date, responses: QuerySet[Response]
) -> dict[str, Share]:
    """`first_pass_yield` by the code of the site where the set was captured."""
    rows = (
        first_answers(responses, first, last)
        .order_by()
        .values_list("submission__session__appointment__station__site__code")
        .annotate(n=Count("pk"), hits=Count("pk", filter=Q(kind=ResponseKind.ACCEPTED)))
    )
    return {code: share(hits, n) for code, n, hits in rows}


def rework_share(*, first: date, last: date, sessions: QuerySet[Session]) -> Share:
    """Share of sessions that ended in the period and were rework."""
    starts, ends = instants(first, last)
    found = sessions.filter(ended_at__gte=starts, ended_at__lt=ends).aggregate(
        n=Count("pk"), hits=Count("pk", filter=Q(appointment__request__rework=True))
    )
    return share(found["hits"], found["n"])


def image_returns(*, first: date, last: date, responses: QuerySet[Response]) -> Share:
    """Share of sets answered in the period that came back for image quality, of any submission."""
    starts, ends = instants(first, last)
    found = responses.filter(received_at__gte=starts, received_at__lt=ends).aggregate(
        n=Count("pk"), hits=Count("pk", filter=Q(kind=ResponseKind.IMAGE))
    )
    return share(found["hits"], found["n"])


def no_show_share(*, first: date, last: date, appointments: QuerySet[Appointment]) -> Share:
    """Share of appointments of the period's days whose subject did not come.

    Counted are those that were held and those that were missed; cancelled ones are in neither.
    """
    found = appointments.filter(
        day__gte=first, day__lte=last, step__in=[Step.HELD, Step.NO_SHOW]
    ).aggregate(n=Count("pk"), hits=Count("pk", filter=Q(step=Step.NO_SHOW)))
    return share(found["hits"], found["n"])
