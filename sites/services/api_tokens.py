"""Tokens of the API: made once and shown once, revoked at any time."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils import timezone

from sites.errors import BadValue, ChangedMeanwhile
from sites.models import ApiToken, User
from sites.selectors.api_tokens import token_digest
from sites.services.write import written

LONGEST_DAYS = 366
SEEN_EVERY = timedelta(hours=1)
"""How exactly the last use is kept: a write for every read would cost more than it tells."""


@written
def api_token_make(
    *, owner: User, name: str, days: int, reads_only: bool = False, at: datetime | None = None
) -> tuple[ApiToken, str]:
    """Make a token and its secret (256 random bits), which is kept nowhere. Raises BadValue."""
    if not name.strip():
        raise BadValue("the token", "has no name", "say which program it is for")
    if not 1 <= days <= LONGEST_DAYS:
        raise BadValue(f"{days} days", "is no lifetime", f"give 1 to {LONGEST_DAYS}")
    at = at or timezone.now()
    secret = f"platen_{secrets.token_urlsafe(32)}"
    token = ApiToken.objects.create(
        code=f"k-{secrets.token_hex(6)}",
        owner=owner,
        name=name.strip(),
        digest=token_digest(secret),
        reads_only=reads_only,
        made_at=at,
        expires_at=at + timedelta(days=days),
    )
    return token, secret


@written
def api_token_revoke(*, token: ApiToken, at: datetime | None = None) -> ApiToken:
    """End a token now. Raises ChangedMeanwhile where it was ended before."""
    count = ApiToken.objects.filter(pk=token.pk, revoked_at__isnull=True).update(
        revoked_at=at or timezone.now()
    )
    if count != 1:
        raise ChangedMeanwhile(token.code, "is revoked already", "nothing is left to do")
    token.refresh_from_db()
    return token


def api_token_seen(*, token: ApiToken, at: datetime) -> None:
    """Keep that a token was used, at most once in `SEEN_EVERY`."""
    if token.seen_at is None or token.seen_at <= at - SEEN_EVERY:
        _keep_seen(token, at)


@written
def _keep_seen(token: ApiToken, at: datetime) -> None:
    stale = Q(seen_at__isnull=True) | Q(seen_at__lte=at - SEEN_EVERY)
    ApiToken.objects.filter(stale, pk=token.pk).update(seen_at=at)
