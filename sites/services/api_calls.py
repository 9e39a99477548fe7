"""Calls that may be sent again: done once, answered alike, forgotten after a day.

The answer is kept in the transaction of the work itself. So a call that has no answer and is not
under way any more did nothing, and may be taken over.
"""

from __future__ import annotations

import hmac
from datetime import datetime, timedelta

from django.db.models import F, QuerySet
from django.utils import timezone

from sites.crypto import digest
from sites.errors import CallUnderway, ChangedMeanwhile, KeyReused
from sites.models import ApiCall, User
from sites.services.write import written

KEPT = timedelta(hours=24)
ANSWERED_WITHIN = timedelta(minutes=5)
"""After this long without an answer whoever worked on a call has died; ours."""


@written
def api_call_begin(
    *, caller: User, key: str, sent: tuple[bytes, ...], at: datetime | None = None
) -> ApiCall:
    """Begin a call, or find the one that was answered; whatever is older than a day is pruned.

    Raises KeyReused where something else was sent under the key, CallUnderway where the first one
    is still being worked on.
    """
    at = at or timezone.now()
    api_calls_old(at=at).delete()
    body = digest("api call", *sent)
    call, made = ApiCall.objects.get_or_create(
        caller=caller,
        key=digest("api call key", key.encode()),
        defaults={"body": body, "started_at": at},
    )
    if made:
        return call
    if not hmac.compare_digest(call.body, body):
        raise KeyReused(
            "the idempotency key", "was sent with another call", "give every call its own key"
        )
    if call.answered_at is not None:
        return call
    lapsed = ApiCall.objects.filter(
        pk=call.pk,
        attempt=call.attempt,
        answered_at__isnull=True,
        started_at__lte=at - ANSWERED_WITHIN,
    ).update(attempt=F("attempt") + 1, started_at=at)
    if lapsed != 1:
        raise CallUnderway(
            "the same call", "is being worked on", "wait for its answer, or send it again later"
        )
    call.refresh_from_db()
    return call


def api_calls_old(*, at: datetime) -> QuerySet[ApiCall]:
    """Calls whose answers have been kept for a day."""
    return ApiCall.objects.filter(started_at__lte=at - KEPT)


@written
def api_calls_forget(*, at: datetime) -> int:
    """Forget calls whose answers have been kept for a day; how many there were."""
    count, _ = api_calls_old(at=at).delete()
    return count


@written
def api_call_answer(*, call: ApiCall, answer: str, at: datetime | None = None) -> None:
    """Keep the answer, beside what it tells of. Raises ChangedMeanwhile where it was taken over."""
    count = ApiCall.objects.filter(
        pk=call.pk, attempt=call.attempt, answered_at__isnull=True
    ).update(answer=answer, answered_at=at or timezone.now())
    if count != 1:
        raise ChangedMeanwhile("the call", "was taken over by another try", "read what it did")


@written
def api_call_drop(*, call: ApiCall) -> None:
    """Forget a call that was refused: nothing was done, so its key is free again."""
    ApiCall.objects.filter(pk=call.pk, attempt=call.attempt, answered_at__isnull=True).delete()
