"""One address, several operations: each method goes to its own class."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase

from planner.api.kinds import KINDS
from planner.api.operation import Operation
from planner.api.problems import Problem, plain


def at(*operations: type[Operation]) -> Callable[..., HttpResponseBase]:
    """The view of an address: the operation of the method, or what the address allows instead."""
    views = {each.method: each.as_view() for each in operations}
    methods = sorted({*views, "OPTIONS", *(["HEAD"] if "GET" in views else [])})
    allow = {"Allow": ", ".join(methods)}

    def address(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if request.method == "OPTIONS":
            return HttpResponse(status=204, headers=allow)
        view = views.get("GET" if request.method == "HEAD" else request.method or "")
        if view is None:
            return plain(Problem("no_such_method", KINDS["no_such_method"].remedy, headers=allow))
        found: HttpResponseBase = view(request, *args, **kwargs)
        found.headers["Allow"] = allow["Allow"]
        return found

    # Each operation asks for the CSRF token itself, where a session signs in; a token needs none.
    address.csrf_exempt = True  # type: ignore[attr-defined]
    address.operations = {each.method: each for each in operations}  # type: ignore[attr-defined]
    address.views = views  # type: ignore[attr-defined]
    address.rule = operations[0].rule  # type: ignore[attr-defined]
    return address


def nowhere(request: HttpRequest, rest: str = "") -> HttpResponse:
    """An address of the API that does not exist."""
    return plain(Problem("not_found", KINDS["not_found"].remedy))


nowhere.public = "It says that there is nothing."  # type: ignore[attr-defined]
