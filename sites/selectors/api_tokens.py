"""Which token a secret is, and which tokens somebody has."""

from __future__ import annotations

from datetime import datetime

from django.db.models import QuerySet

from sites.crypto import digest
from sites.models import ApiToken, User


def token_digest(secret: str) -> str:
    """The keyed hash by which a token is found."""
    return digest("api token", secret.encode())


def api_token_of(*, secret: str, at: datetime) -> ApiToken | None:
    """The token of a secret, with its owner; None where it opens nothing, or nothing any more."""
    return (
        ApiToken.objects.select_related("owner")
        .filter(
            digest=token_digest(secret),
            revoked_at__isnull=True,
            expires_at__gt=at,
            owner__is_active=True,
        )
        .first()
    )


def api_tokens(*, owner: User) -> QuerySet[ApiToken]:
    """Somebody's tokens, also those that are over, oldest first."""
    return ApiToken.objects.filter(owner=owner).order_by("made_at", "pk")
