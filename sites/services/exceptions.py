"""The exception route: after a second image return a check by name may be asked for.

Two image returns, both control numbers, 90 days: public guidance on biographic verification (the
unit, days, is recalled). The days are the programme's (``return_window_days``). A plan, not a
decision about a person: people decide under the programme's policy.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.utils import timezone

from sites.access import require_here
from sites.clock import wall
from sites.errors import ChangedMeanwhile, StepRefused
from sites.models import ExceptionRoute, Request, Response, ResponseKind, Submission, User
from sites.services.write import written


def need_of(request: Request) -> list[int]:
    """The keys of a request and of those whose rework it is, the newest first."""
    found = [request.pk]
    before = request.rework_of_id
    while before is not None:
        found.append(before)
        before = Request.objects.values_list("rework_of", flat=True).get(pk=before)
    return found


@written
def exception_open(*, submission: Submission, at: datetime) -> ExceptionRoute | None:
    """Open the route where this is the need's second image return; None where it is not.

    It closes the programme's number of days after the day, at the site, on which it came back.
    """
    need = need_of(submission.request)
    back = (
        Response.objects.filter(submission__request__in=need, kind=ResponseKind.IMAGE)
        .order_by("received_at", "pk")
        .values_list("submission__control_number", flat=True)
    )
    numbers = list(back)
    if len(numbers) < 2 or ExceptionRoute.objects.filter(request__in=need).exists():
        return None
    day, _ = wall(submission.session.appointment.station.site.timezone, at)
    return ExceptionRoute.objects.create(
        request=submission.request,
        first_number=numbers[-2],
        second_number=numbers[-1],
        opened_at=at,
        closes_on=day + timedelta(days=submission.request.terms.return_window_days),
    )


@written
def exception_ask(
    *, route: ExceptionRoute, by: User, today: date, at: datetime | None = None
) -> ExceptionRoute:
    """Keep that the check was asked for. Raises StepRefused after the closing date."""
    require_here(by, route.request)
    if today > route.closes_on:
        raise StepRefused(
            f"the exception route of {route.request}",
            f"closed on {route.closes_on}",
            "ask the programme, or ask for rework",
        )
    at = max(at or timezone.now(), route.opened_at)
    rows = ExceptionRoute.objects.filter(pk=route.pk, asked_at__isnull=True)
    if rows.update(asked_at=at, asked_by=by) != 1:
        raise ChangedMeanwhile(
            f"the exception route of {route.request}", "was asked for already", "read it again"
        )
    route.refresh_from_db()
    return route
