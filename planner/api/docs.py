"""The OpenAPI document as pages to read: all operations by subject, then each with its words."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.contrib.auth.mixins import LoginRequiredMixin
from django.http import Http404
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.views.generic import TemplateView

from planner.api.documents import document
from planner.api.kinds import KINDS
from planner.api.problems import MEDIA_TYPE

DEEPEST = 6


@dataclass(frozen=True, slots=True)
class Line:
    """A parameter, or a name in a body: its type in words, whether it has to be there."""

    name: str
    place: str
    type: str
    needed: bool
    words: SafeString


@dataclass(frozen=True, slots=True)
class Body:
    """What is sent or answered: media type, its names, an example as text."""

    media: str
    lines: list[Line]
    example: str


@dataclass(frozen=True, slots=True)
class Described:
    """An operation in words."""

    key: str
    method: str
    path: str
    summary: str
    words: list[SafeString]
    parameters: list[Line]
    takes: list[Body]
    status: str
    gives: list[Body]
    problems: list[tuple[str, str]]


@cache
def by_subject() -> dict[str, list[Described]]:
    """All operations in the order of their addresses, by subject in order of the alphabet."""
    whole = document()
    found: dict[str, list[Described]] = {}
    for path, methods in whole["paths"].items():
        for method, each in methods.items():
            one = described(method.upper(), path, each, whole["components"]["schemas"])
            found.setdefault(each["tags"][0], []).append(one)
    return dict(sorted(found.items()))


def described(method: str, path: str, each: dict[str, Any], shapes: dict[str, Any]) -> Described:
    """An operation of the document."""
    status = next(iter(each["responses"]))
    done = each["responses"][status]
    return Described(
        key=each["operationId"],
        method=method,
        path=path,
        summary=each["summary"].replace("`", ""),
        words=[marked(part) for part in each.get("description", "").split("\n\n")],
        parameters=[
            Line(
                one["name"],
                {"path": "address", "query": "query", "header": "header"}[one["in"]],
                type_of(one["schema"], shapes),
                bool(one.get("required")),
                marked(one.get("description", "")),
            )
            for one in each.get("parameters", ())
        ],
        takes=list(bodies(each.get("requestBody", {}), shapes)),
        status=status,
        gives=list(bodies(done, shapes)),
        problems=[
            (kind.get("summary", name), status)
            for status, said in each["responses"].items()
            for name, kind in said.get("content", {})
            .get(MEDIA_TYPE, {})
            .get("examples", {})
            .items()
        ],
    )


def marked(text: str) -> SafeString:
    """A text with what stands between backticks as code."""
    parts = enumerate(text.split("`"))
    return format_html_join(
        "",
        "{}",
        ((format_html("<code>{}</code>", part) if at % 2 else part,) for at, part in parts),
    )


def bodies(said: dict[str, Any], shapes: dict[str, Any]) -> Iterator[Body]:
    """What is sent or answered, by media type."""
    for media, one in said.get("content", {}).items():
        [value, *_] = [each["value"] for each in one.get("examples", {}).values()] or [None]
        text = "" if value is None else json.dumps(value, indent=2, ensure_ascii=False)
        yield Body(media, list(lines(one["schema"], shapes)), text)


def lines(
    schema: dict[str, Any], shapes: dict[str, Any], before: str = "", depth: int = 0
) -> Iterator[Line]:
    """The names of an object and of those inside it, as paths."""
    schema = opened(schema, shapes)
    if schema.get("type") == "array":
        yield from lines(schema["items"], shapes, f"{before}[]", depth)
        return
    needed = set(schema.get("required", ()))
    for name, one in schema.get("properties", {}).items():
        path = f"{before}.{name}" if before else name
        words = one.get("description") or opened(one, shapes).get("description", "")
        said = marked(words.split("\n\n")[0])
        yield Line(path, "", type_of(one, shapes), name in needed, said)
        if depth < DEEPEST:
            yield from lines(one, shapes, path, depth + 1)


def opened(schema: dict[str, Any], shapes: dict[str, Any]) -> dict[str, Any]:
    """The shape that a reference names."""
    if "allOf" in schema:
        inner = opened(schema["allOf"][0], shapes)
        return {**inner, **{name: one for name, one in schema.items() if name != "allOf"}}
    if "$ref" in schema:
        found: dict[str, Any] = shapes[schema["$ref"].rpartition("/")[2]]
        return found
    return schema


def type_of(schema: dict[str, Any], shapes: dict[str, Any]) -> str:
    """A type in words, with what it is limited to."""
    schema = opened(schema, shapes)
    if schema.get("type") == "array":
        return f"list of: {type_of(schema['items'], shapes)}"
    words = {
        "date": "date",
        "date-time": "instant",
        "email": "mail address",
        "binary": "file",
    }.get(schema.get("format", ""), "")
    named = {"string": "text", "integer": "whole number", "boolean": "true or false"}
    words = words or named.get(schema.get("type", ""), schema.get("type", "any value"))
    if choices := [f"{each}" for each in schema.get("enum", ()) if each]:
        words = f"one of: {', '.join(choices)}"
    low, high = schema.get("minimum"), schema.get("maximum")
    if low is not None or high is not None:
        words += (
            f", {'' if low is None else f'from {low:g}'}{'' if high is None else f' to {high:g}'}"
        )
    if "maxLength" in schema:
        words += f", up to {schema['maxLength']} signs"
    if "default" in schema:
        words += f"; else {schema['default']}"
    return f"{words}, or null" if schema.get("nullable") else words


class DocsPage(LoginRequiredMixin, TemplateView):
    """All operations by subject."""

    template_name = "api/docs.html"
    rule = "frame.see"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The list, and what problems there are."""
        return super().get_context_data(subjects=by_subject(), kinds=KINDS, **kwargs)


class SubjectPage(LoginRequiredMixin, TemplateView):
    """The operations of one subject, with parameters, bodies, examples and problems."""

    template_name = "api/subject.html"
    rule = "frame.see"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The operations. Raises Http404 for a subject that is none."""
        found = by_subject()
        if kwargs["subject"] not in found:
            raise Http404("The API has no such subject.")
        return super().get_context_data(
            operations=found[kwargs["subject"]], subjects=list(found), **kwargs
        )
