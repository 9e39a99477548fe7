"""Every request has an id and somebody who acts: for the audit and for the log."""

from __future__ import annotations

import logging
import re
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

from django.http import HttpRequest
from django.http.response import HttpResponseBase

from sites.audit.actor import NOBODY, acting, login

log = logging.getLogger(__name__)
HEADER = "X-Request-ID"
SANE = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]{7,63}")


@dataclass(slots=True)
class Caller:
    """Who is behind a request; asked at each write, as somebody may sign in within the request."""

    request: HttpRequest
    asking: bool = False

    def __call__(self) -> str:
        """The actor; nobody while it is being found out, which can write to the session."""
        if self.asking:
            return NOBODY
        self.asking = True
        try:
            key = getattr(getattr(self.request, "user", None), "pk", None)
        finally:
            self.asking = False
        return NOBODY if key is None else login(key)


class Trace:
    """Middleware, outermost: take the caller's id where it is sane, else make one, and echo it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Name who acts while the request is answered."""
        given = request.headers.get(HEADER, "")
        name = given if SANE.fullmatch(given) else secrets.token_hex(8)
        began = time.perf_counter()
        with acting(Caller(request), name):
            response = self.get_response(request)
            tell(request, response, time.perf_counter() - began)
        response[HEADER] = name
        return response


def tell(request: HttpRequest, response: HttpResponseBase, seconds: float) -> None:
    """A line a request. The address's pattern and not the address: that can name a subject."""
    match = request.resolver_match
    log.info(
        "answered",
        extra={
            "method": request.method,
            "route": f"/{match.route}" if match else "",
            "view": match.view_name if match else "",
            "status": response.status_code,
            "ms": round(seconds * 1000, 1),
        },
    )
