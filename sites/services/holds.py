"""Requests are put on hold and released, one or many."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from sites.access import require_here
from sites.errors import BadValue
from sites.models import Hold, Request, User
from sites.selectors.chosen import judge_hold, judge_release
from sites.selectors.holds import in_force
from sites.selectors.parts import parts
from sites.services.outcome import Outcome, locked, sorted_out
from sites.services.write import written


@written
def requests_hold(
    *,
    requests: Iterable[Request],
    why: str,
    by: User,
    at: datetime,
    until: date | None = None,
    seen: Mapping[int, str] | None = None,
) -> Outcome:
    """Put requests on hold: neither people nor plans book them until they are released.

    Only what waits for a time can be held; what is booked keeps its appointment and is skipped.
    ``until`` is the first day on which they can have an appointment again. ``seen`` is what
    `judge_hold` said when somebody decided, by key: what stands elsewhere by now is skipped.
    Raises BadValue without a reason or with a day that is not ahead.
    """
    if not why.strip():
        raise BadValue("the reason", "is empty", "say why these requests have to wait")
    if until is not None and until <= at.date():
        raise BadValue(f"{until}", "is not ahead", "choose a later day, or none")
    rows = locked(requests)
    require_here(by, *rows)
    outcome = sorted_out(rows, judge_hold(requests=rows, today=at.date()), seen)
    for part in parts(outcome.done):  # holds that ended by themselves make room for the new ones
        Hold.objects.filter(request__in=part, released_at__isnull=True).update(released_at=at)
    Hold.objects.bulk_create(
        (
            Hold(request=request, since=at, by=by, why=why.strip(), until=until)
            for request in outcome.done
        ),
        batch_size=1000,
    )
    return outcome


@written
def requests_release(
    *,
    requests: Iterable[Request],
    by: User,
    at: datetime,
    seen: Mapping[int, str] | None = None,
) -> Outcome:
    """End the holds of requests; what is not on hold is skipped.

    ``seen`` is what `judge_release` said when somebody decided, by key: a hold that somebody else
    put on a request since then stays.
    """
    rows = locked(requests)
    require_here(by, *rows)
    outcome = sorted_out(rows, judge_release(requests=rows, today=at.date()), seen)
    for part in parts(outcome.done):
        held = Hold.objects.filter(in_force(at.date()), request__in=part)
        held.update(released_at=at, released_by=by)
    return outcome
