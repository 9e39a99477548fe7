"""Requests are put on hold and released, one or many."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from sites.errors import BadValue
from sites.models import Hold, Request, User
from sites.selectors.holds import in_force
from sites.selectors.standing import Standing, requests_standing
from sites.services.outcome import Outcome
from sites.services.write import written

CAN_WAIT = (Standing.TO_BOOK, Standing.DISPLACED)


@written
def requests_hold(
    *,
    requests: Iterable[Request],
    why: str,
    by: User,
    at: datetime,
    until: date | None = None,
) -> Outcome:
    """Put requests on hold: neither people nor plans book them until they are released.

    Only what waits for a time can be held; what is booked keeps its appointment and is skipped.
    ``until`` is the first day on which they can have an appointment again. Raises BadValue
    without a reason or with a day that is not ahead.
    """
    if not why.strip():
        raise BadValue("the reason", "is empty", "say why these requests have to wait")
    if until is not None and until <= at.date():
        raise BadValue(f"{until}", "is not ahead", "choose a later day, or none")
    outcome = Outcome()
    rows = list(requests)
    stands = standings(rows, at.date())
    held = []
    for request in rows:
        if stands[request.pk] in CAN_WAIT:
            held.append(Hold(request=request, since=at, by=by, why=why.strip(), until=until))
            outcome.done.append(request)
        else:
            outcome.skip(request, f"stands at “{stands[request.pk].label}”")
    end_over(held, at)
    Hold.objects.bulk_create(held, batch_size=1000)
    return outcome


def end_over(holds: list[Hold], at: datetime) -> None:
    """Close holds that ended by themselves, to make room for the new ones."""
    for start in range(0, len(holds), 1000):
        keys = [each.request_id for each in holds[start : start + 1000]]
        Hold.objects.filter(request__in=keys, released_at__isnull=True).update(released_at=at)


@written
def requests_release(*, requests: Iterable[Request], by: User, at: datetime) -> Outcome:
    """End the holds of requests; what is not on hold is skipped."""
    outcome = Outcome()
    rows = list(requests)
    keys = [row.pk for row in rows]
    held: set[int] = set()
    for start in range(0, len(keys), 1000):
        part = Hold.objects.filter(in_force(at.date()), request__in=keys[start : start + 1000])
        held |= set(part.values_list("request_id", flat=True))
        part.update(released_at=at, released_by=by)
    for row in rows:
        if row.pk in held:
            outcome.done.append(row)
        else:
            outcome.skip(row, "is not on hold")
    return outcome


def standings(requests: list[Request], today: date) -> dict[int, Standing]:
    """Where requests stand now, by key."""
    found: dict[int, Standing] = {}
    for start in range(0, len(requests), 1000):
        keys = [row.pk for row in requests[start : start + 1000]]
        part = requests_standing(today=today, requests=Request.objects.filter(pk__in=keys))
        found |= {pk: Standing(text) for pk, text in part.values_list("pk", "standing")}
    return found
