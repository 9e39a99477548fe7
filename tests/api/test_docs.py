"""The API's pages to read: every operation is there, with what the document says of it."""

from __future__ import annotations

import html
from typing import Any

from django.test import Client

from planner.api.docs import lines, type_of
from planner.api.documents import document
from tests.sites.build import World

DOCS = "/api/v1/docs/"


def test_every_operation_can_be_read_about(here: World) -> None:
    client = Client()
    client.force_login(here.desk)
    listed = html.unescape(client.get(DOCS).content.decode())
    pages: dict[str, str] = {}
    for path, methods in document()["paths"].items():
        for method, said in methods.items():
            assert f"{method.upper()} {path}" in listed
            subject = said["tags"][0]
            if subject not in pages:
                pages[subject] = html.unescape(client.get(f"{DOCS}{subject}/").content.decode())
            assert f'id="{said["operationId"]}"' in pages[subject]
            assert said["summary"].replace("`", "") in pages[subject]
            for one in said.get("parameters", ()):
                assert f"<code>{one['name']}</code>" in pages[subject]
    assert client.get(f"{DOCS}nonsense/").status_code == 404
    assert "`" not in "".join(pages.values())


def test_types_are_told_in_words_with_their_limits_and_nested_names_as_paths() -> None:
    """By hand, from a schema as OpenAPI 3.0 has it (nullable, allOf around a reference)."""
    shapes: dict[str, Any] = {
        "Place": {"type": "object", "required": ["site"], "properties": {"site": TEXT}}
    }
    schema = {
        "type": "object",
        "properties": {
            "at": {"allOf": [{"$ref": "#/components/schemas/Place"}], "description": "Where."},
            "days": {"type": "array", "items": {"type": "string", "format": "date"}},
            "count": {"type": "integer", "minimum": 1, "maximum": 9, "default": 2},
            "end": {"type": "string", "format": "date-time", "nullable": True},
        },
    }
    said = {one.name: (one.type, one.needed) for one in lines(schema, shapes)}
    assert said == {
        "at": ("object", False),
        "at.site": ("text, up to 64 signs", True),
        "days": ("list of: date", False),
        "count": ("whole number, from 1 to 9; else 2", False),
        "end": ("instant, or null", False),
    }
    assert type_of({"type": "string", "enum": ["a", "b"]}, {}) == "one of: a, b"


TEXT = {"type": "string", "maxLength": 64}
