"""Every refusal as problem details (RFC 9457), from whatever raised it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Any
from urllib.parse import quote
from uuid import uuid4

from django.core.exceptions import PermissionDenied as Denied
from django.core.exceptions import RequestDataTooBig
from django.db import IntegrityError
from django.http import Http404, JsonResponse, UnreadablePostError
from rest_framework import exceptions as drf
from rest_framework.response import Response

from planner.api.kinds import KINDS
from planner.engine.errors import PlatenError
from sites.errors import RecordError

MEDIA_TYPE = "application/problem+json"
TYPES = "/api/v1/problems/"
RETRY_SECONDS = 2


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong: a kind of `KINDS`, a sentence about this time, and where it is wrong."""

    kind: str
    detail: str
    errors: list[dict[str, str]] = field(default_factory=list)
    headers: dict[str, str] = field(default_factory=dict)
    instance: str = field(default_factory=lambda: f"urn:uuid:{uuid4()}")

    @property
    def status(self) -> int:
        """The HTTP status."""
        return KINDS[self.kind].status

    def body(self) -> dict[str, Any]:
        """The members of RFC 9457, section 3.1, and ``errors`` (an extension, section 3.2)."""
        found: dict[str, Any] = {
            "type": f"{TYPES}{self.kind}/",
            "title": KINDS[self.kind].title,
            "status": self.status,
            "detail": self.detail,
            "instance": self.instance,
        }
        return found | ({"errors": self.errors} if self.errors else {})


class Refused(drf.APIException):
    """Raise a problem by its kind from inside an operation."""

    def __init__(self, kind: str, detail: str, headers: dict[str, str] | None = None) -> None:
        self.problem = Problem(kind, detail, headers=headers or {})
        self.status_code = self.problem.status
        super().__init__(detail)


class BadQuery(drf.ValidationError):
    """Something in the query is wrong; ``errors`` name parameters instead of places in a body."""


class BadHeader(drf.ValidationError):
    """Something in a header is wrong."""


def answer(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """The one handler of the API; None for what nobody foresaw, which Django logs as a fault."""
    found = problem_of(error)
    if found is None:
        return None
    if getattr(context.get("view"), "takes_form", False):
        found = replace(found, kind=OF_FORMS.get(found.kind, found.kind))
    return Response(
        found.body(), status=found.status, headers=found.headers, content_type=MEDIA_TYPE
    )


def plain(problem: Problem) -> JsonResponse:
    """The same where no operation was reached."""
    return JsonResponse(
        problem.body(), status=problem.status, headers=problem.headers, content_type=MEDIA_TYPE
    )


def problem_of(error: Exception) -> Problem | None:
    """What an error is to a caller; None where it is a fault of ours."""
    if isinstance(error, Refused):
        return error.problem
    if isinstance(error, drf.ValidationError):
        return invalid(error)
    if isinstance(error, drf.APIException):
        return of_framework(error)
    if isinstance(error, Http404 | Denied):
        kind = "not_found" if isinstance(error, Http404) else "not_allowed"
        said = str(error.args[0]) if error.args else ""
        return Problem(kind, said if said.endswith(".") else KINDS[kind].remedy)
    if isinstance(error, RequestDataTooBig | UnreadablePostError):
        kind = "too_large" if isinstance(error, RequestDataTooBig) else "not_json"
        return Problem(kind, KINDS[kind].remedy)
    return of_house(error)


def of_house(error: Exception) -> Problem | None:
    """What the record or the engine refuses, by the code of the error."""
    if isinstance(error, RecordError):
        kind = error.code if error.code in KINDS else "refused"
        retry = {"busy", "call_underway"} & {kind}
        detail = f"{error.value} {error.problem}: {error.remedy}."
        return Problem(kind, detail, headers={"Retry-After": f"{RETRY_SECONDS}"} if retry else {})
    if isinstance(error, PlatenError) and error.code in {"refused", "impossible"}:
        kind = "bad_value" if error.code == "refused" else "impossible"
        faults = [{"detail": f"{each.problem}; {each.remedy}"} for each in error.faults]
        return Problem(kind, str(error), errors=faults)
    if isinstance(error, IntegrityError):
        return Problem("refused", "A rule of the record forbids these values together.")
    return None


OF_STATUS = {
    400: "not_json",
    401: "not_signed_in",
    403: "not_allowed",
    404: "not_found",
    405: "no_such_method",
    406: "not_acceptable",
    415: "not_a_json_type",
    429: "too_many",
}
OF_FORMS = {"not_json": "not_a_form", "not_a_json_type": "not_a_form_type"}
"""What the kinds about a body are called where it is a form."""


def of_framework(error: drf.APIException) -> Problem | None:
    """What the framework refuses; its status is set before the handler is asked."""
    kind = OF_STATUS.get(error.status_code)
    if kind is None:
        return None
    headers = {}
    if wait := getattr(error, "wait", None):
        headers["Retry-After"] = f"{math.ceil(wait)}"
    if scheme := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = scheme
    return Problem(kind, str(error.detail), headers=headers)


def invalid(error: drf.ValidationError) -> Problem:
    """Every fault with its place: a JSON pointer, a parameter or a header."""
    faults = list(places(error.get_full_details(), ()))
    key = {BadQuery: "parameter", BadHeader: "header"}.get(type(error), "pointer")
    said = dict.fromkeys(
        (pointer(path) if key == "pointer" else ".".join(path), detail) for path, detail in faults
    )
    errors = [{key: place, "detail": detail} for place, detail in said]
    first = f"{errors[0][key]}: {errors[0]['detail']}" if errors else "It is not valid."
    more = f" And {len(errors) - 1} more." if len(errors) > 1 else ""
    return Problem("invalid", first + more, errors=errors)


def places(found: Any, path: tuple[str, ...]) -> Iterator[tuple[tuple[str, ...], str]]:
    """(path, sentence) of every fault in the framework's nested details."""
    if isinstance(found, dict) and set(found) == {"message", "code"}:
        yield path, str(found["message"])
    elif isinstance(found, dict):
        for name, inner in found.items():
            yield from places(inner, path if name == "non_field_errors" else (*path, str(name)))
    else:
        for index, inner in enumerate(found):
            leaf = isinstance(inner, dict) and set(inner) == {"message", "code"}
            yield from places(inner, path if leaf else (*path, str(index)))


def pointer(path: tuple[str, ...]) -> str:
    """A JSON pointer as a URI fragment (RFC 6901, sections 3 and 6)."""
    parts = (each.replace("~", "~0").replace("/", "~1") for each in path)
    return "#" + "".join(f"/{quote(each, safe='~!$&()*+,;=:@' + chr(39))}" for each in parts)
