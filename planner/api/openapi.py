"""How an operation is described in the OpenAPI document: from what its class says, no more."""

from __future__ import annotations

import inspect
import re
from typing import Any, Literal

from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse

from planner.api.kinds import KINDS
from planner.api.parameters import filter_parameters, page_parameters, path_parameter
from planner.api.problems import MEDIA_TYPE
from planner.api.shapes.problem import ProblemShape

ALWAYS = ("invalid", "not_signed_in", "not_allowed", "not_acceptable", "too_many", "busy")
WITH_BODY = ("not_json", "not_a_json_type", "too_large")
WITH_FORM = ("not_a_form", "not_a_form_type", "too_large")
CHANGING = ("changed", "no_precondition")
REPLAYED = ("key_reused", "call_underway")
OF_RECORD = ("refused", "bad_value", "changed_meanwhile")
TEXT = OpenApiTypes.STR
HEADER: Literal["header"] = OpenApiParameter.HEADER


class OperationSchema(AutoSchema):
    """Reads `Operation`; nothing is said twice."""

    def get_operation_id(self) -> str:
        """The class's name: ``RequestsList`` is ``requests_list``."""
        return re.sub(r"(?<!^)(?=[A-Z])", "_", type(self.view).__name__).lower()

    def get_tags(self) -> list[str]:
        """What it is about."""
        return [self.view.tag]

    def get_summary(self) -> str:
        """The first sentence of the class's docstring."""
        return said(type(self.view)).partition("\n\n")[0].rstrip(".")

    def get_description(self) -> str:
        """The rest of it, and whose it is."""
        rest = said(type(self.view)).partition("\n\n")[2]
        return "\n\n".join(filter(None, (rest, self.view.whose())))

    def get_request_serializer(self) -> Any:
        """The shape of the body."""
        return self.view.takes

    def get_examples(self) -> list[OpenApiExample]:
        """A body and an answer, as their shapes have them; a page of one where it is a list."""
        view, found = self.view, []
        if value := getattr(view.takes, "example", None):
            found.append(OpenApiExample("body", value=value, request_only=True))
        if value := getattr(view.gives, "example", None):
            value = {"results": [value], "next": None} if hasattr(view, "orders") else value
            status = [view.status]
            found.append(
                OpenApiExample("answer", value=value, response_only=True, status_codes=status)
            )
        return found

    def get_response_serializers(self) -> Any:
        """The answer, and every kind of problem by its status."""
        view = self.view
        found: dict[Any, OpenApiResponse] = {}
        found[f"{view.status}", *self.map_renderers("media_type")] = OpenApiResponse(
            self.answered(), description="Done."
        )
        if self.method == "GET" and hasattr(view, "find"):
            found["304"] = OpenApiResponse(None, description="The caller has it already.")
        for status, kinds in self.problems().items():
            examples = [example(kind, view.request) for kind in kinds]
            found[f"{status}", MEDIA_TYPE] = OpenApiResponse(
                ProblemShape,
                description="; ".join(KINDS[k].title for k in kinds),
                examples=examples,
            )
        return found

    def answered(self) -> Any:
        """The shape of the answer; a page of them for a list."""
        view = self.view
        if not hasattr(view, "orders"):
            return view.gives
        ref = self.resolve_serializer(view.gives, "response").ref
        return {
            "type": "object",
            "required": ["results", "next"],
            "additionalProperties": False,
            "properties": {
                "results": {"type": "array", "items": ref},
                "next": {
                    "type": "string",
                    "nullable": True,
                    "description": "Address of the next page; null on the last.",
                },
            },
        }

    def problems(self) -> dict[int, list[str]]:
        """Kinds of problem that this operation can answer with, by status."""
        view = self.view
        kinds = [*ALWAYS, *view.refuses]
        if "{" in self.path:
            kinds.append("not_found")
        if view.takes:
            kinds += WITH_FORM if view.takes_form else WITH_BODY
        if self.method == "POST":
            kinds += OF_RECORD
            kinds += CHANGING if view.on else ()
            kinds += REPLAYED if view.replays else ()
        found: dict[int, list[str]] = {}
        for kind in dict.fromkeys(kinds):
            found.setdefault(KINDS[kind].status, []).append(kind)
        return dict(sorted(found.items()))

    def get_override_parameters(self) -> list[Any]:
        """Path, query and headers, and the headers of the answer."""
        view = self.view
        found = [path_parameter(name) for name in re.findall(r"{(\w+)}", self.path)]
        if hasattr(view, "orders"):
            found += [*filter_parameters(view.filters), *page_parameters(view.orders)]
        if view.query:
            found.append(view.query)
        return [*found, *self.headers()]

    def headers(self) -> list[OpenApiParameter]:
        """Conditional calls and calls that may be sent again."""
        view, found = self.view, []
        one = hasattr(view, "find")
        if one:
            found.append(
                OpenApiParameter(
                    "If-None-Match", TEXT, HEADER, description="The ETag that the caller has."
                )
            )
        if one or (self.method == "POST" and view.on and view.gives is view.on.gives):
            found.append(
                OpenApiParameter(
                    "ETag",
                    TEXT,
                    HEADER,
                    response=[view.status],
                    description="Strong entity tag of what is shown (RFC 9110, 8.8.3).",
                )
            )
        if self.method == "POST" and view.on:
            found.append(
                OpenApiParameter(
                    "If-Match",
                    TEXT,
                    HEADER,
                    required=True,
                    description="The ETag of what the change was decided on; `*` for whatever "
                    "it is. Missing: 428. Stale: 412.",
                )
            )
        if self.method == "POST" and view.replays:
            found.append(
                OpenApiParameter(
                    "Idempotency-Key",
                    {"type": "string", "pattern": "^[!-~]{1,255}$"},
                    HEADER,
                    description="A key of the caller's own, kept for 24 hours. The same call under "
                    "it is answered again and done once; another call under it is refused.",
                )
            )
        return found

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        """Objects are closed: what is sent beyond them is refused, and nothing more is shown."""
        schema = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        if "properties" in schema and not isinstance(serializer, ProblemShape):
            schema["additionalProperties"] = False
        return schema


def said(cls: type) -> str:
    """The docstring as plain text: no Python reference marks."""
    text = re.sub(r"`+", "`", inspect.getdoc(cls) or "")
    return "\n\n".join(" ".join(part.split()) for part in text.split("\n\n"))


def example(kind: str, request: Any) -> OpenApiExample:
    """What a problem of a kind looks like."""
    known = KINDS[kind]
    value = {
        "type": f"/api/v1/problems/{kind}/",
        "title": known.title,
        "status": known.status,
        "detail": known.remedy,
        "instance": "urn:uuid:2b1b6f0c-9c1d-4c0c-8c5e-0d8f4a1c7e21",
    }
    return OpenApiExample(kind, value=value, media_type=MEDIA_TYPE)


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """How a token is sent."""

    target_class = "planner.api.signing_in.ByToken"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """RFC 6750."""
        return {"type": "http", "scheme": "bearer"}


class SessionScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    """The session of the pages."""

    target_class = "planner.api.signing_in.BySession"
    name = "session"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        """The cookie; writes need the header X-CSRFToken too."""
        return {
            "type": "apiKey",
            "in": "cookie",
            "name": "sessionid",
            "description": "Writes need the CSRF token too, as the header X-CSRFToken.",
        }
