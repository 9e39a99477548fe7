"""The OpenAPI document."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Any, ClassVar

from django.urls import URLPattern, URLResolver, get_resolver
from drf_spectacular.generators import EndpointEnumerator, SchemaGenerator
from rest_framework.response import Response

from planner.api.at import at
from planner.api.examples import add_examples
from planner.api.operation import Operation

PREFIX = "/api/v1/"


class Addresses(EndpointEnumerator):
    """Every operation of every address."""

    def get_api_endpoints(
        self, patterns: Any = None, prefix: str = ""
    ) -> list[tuple[str, str, str, Any]]:
        """(path, its regex, method, view) in the order of the addresses."""
        return list(self.walk(self.patterns, ""))

    def walk(self, patterns: Iterable[Any], prefix: str) -> Iterable[tuple[str, str, str, Any]]:
        """The operations below some patterns."""
        for each in patterns:
            regex = prefix + str(each.pattern)
            if isinstance(each, URLResolver):
                yield from self.walk(each.url_patterns, regex)
            elif isinstance(each, URLPattern) and hasattr(each.callback, "views"):
                path = self.get_path_from_regex(regex)  # type: ignore[no-untyped-call]
                for method, view in each.callback.views.items():
                    yield path, regex, method, view


class Document(SchemaGenerator):
    """The OpenAPI document of all operations, for whoever asks: addresses are no secret."""

    endpoint_inspector_cls = Addresses


@cache
def document() -> dict[str, Any]:
    """The document as plain values, made once a process; whoever gets it changes nothing in it."""
    made = Document(patterns=get_resolver().url_patterns)  # type: ignore[no-untyped-call]
    found: dict[str, Any] = made.get_schema(public=True)  # type: ignore[no-untyped-call]
    add_examples(found)
    return found


class SchemaRead(Operation):
    """The OpenAPI document (version 3), with every operation, shape and refusal."""

    method, rule, tag = "GET", "frame.see", "own"
    gives: ClassVar[Any] = {"type": "object", "additionalProperties": True}

    def get(self, request: Any) -> Response:
        """The document."""
        return Response(document())


schema = at(SchemaRead)
