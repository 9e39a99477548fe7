"""How long somebody stays signed in: idle time and a longest time; and no page left in a cache."""

from __future__ import annotations

from collections.abc import Callable
from time import time
from typing import Any

from django.conf import settings
from django.contrib.auth import logout
from django.contrib.auth.signals import user_logged_in
from django.http import HttpRequest, HttpResponse
from django.utils.cache import add_never_cache_headers

BEGAN, SEEN = "began", "seen"
STEPS = 10
"""The idle time is counted on after a tenth of it, so that few requests write a session."""


def sign_in_began(request: HttpRequest | None = None, **_: Any) -> None:
    """Keep when somebody signed in."""
    if request is not None and hasattr(request, "session"):
        request.session[BEGAN] = request.session[SEEN] = int(time())


user_logged_in.connect(sign_in_began, dispatch_uid="sign-in-began")


class Staying:
    """Middleware: ends a sign-in that is too old, and keeps one that is in use from ending."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Sign out, or count on; what a signed-in person saw is for no cache and no back button."""
        if not request.user.is_authenticated:
            return self.get_response(request)
        now = int(time())
        began = request.session.setdefault(BEGAN, now)
        if now - began >= settings.SIGN_IN_SECONDS:
            logout(request)
        elif now - request.session.get(SEEN, 0) >= settings.SESSION_COOKIE_AGE / STEPS:
            request.session[SEEN] = now
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            add_never_cache_headers(response)
        return response
