"""One answer to what the record or the engine refuses in a page: a sentence, not a traceback."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from planner.engine.errors import PlatenError
from sites.errors import RecordError


class Faults:
    """Middleware: a refusal that no page handled itself becomes a page that names it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Pass on."""
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse | None:
        """Status 409: the record as it stands does not allow it."""
        if isinstance(error, PlatenError):
            faults = [str(fault) for fault in error.faults]
        elif isinstance(error, RecordError):
            faults = [str(error)]
        else:
            return None
        return render(request, "web/409.html", {"faults": faults}, status=409)
