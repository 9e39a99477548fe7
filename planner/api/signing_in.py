"""Who calls: a token of ours, or a session of the pages (with its CSRF token on every write)."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed

from sites.models import ApiToken, User
from sites.selectors.api_tokens import api_token_of
from sites.services.api_tokens import api_token_seen

SCHEME = "Bearer"


class ByToken(BaseAuthentication):
    """``Authorization: Bearer …`` (RFC 6750, section 2.1)."""

    def authenticate(self, request: Any) -> tuple[User, ApiToken] | None:
        """The token's owner; None where no token was sent."""
        scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != SCHEME.lower():
            return None
        at = timezone.now()
        token = api_token_of(secret=secret.strip(), at=at)
        if token is None:
            raise AuthenticationFailed(
                "The token is unknown, revoked or expired, or its owner is gone: make another one."
            )
        api_token_seen(token=token, at=at)
        return token.owner, token

    def authenticate_header(self, request: Any) -> str:
        """The challenge (RFC 9110, section 11.6.1; RFC 6750, section 3)."""
        sent = request.headers.get("Authorization", "")
        return f'{SCHEME} realm="platen"' + (', error="invalid_token"' if sent else "")


class BySession(SessionAuthentication):
    """Whoever is signed in to the pages."""
