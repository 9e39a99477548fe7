"""Every body and answer has an example, and every body can be sent."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import get_resolver

from planner.api.documents import Addresses, document
from planner.api.operation import Operation

FILES = {"intake_template", "intake_problems", "notice_calendar", "schema_read"}
"""Whose answers are files, or the document itself."""


def operations() -> Iterator[tuple[str, dict[str, Any], type[Operation]]]:
    """Each operation's name, its description and its class."""
    found = Addresses(get_resolver().url_patterns)
    for path, _, method, view in found.get_api_endpoints():
        said = document()["paths"][path][method.lower()]
        yield said["operationId"], said, view.cls


def examples(said: dict[str, Any]) -> list[Any]:
    """The examples of a body or an answer, of every media type."""
    return [
        each["value"]
        for one in said.get("content", {}).values()
        for each in one.get("examples", {}).values()
    ]


def test_every_body_and_every_answer_has_an_example() -> None:
    for name, said, cls in operations():
        if cls.takes is not None:
            assert examples(said["requestBody"]), name
        if cls.gives is not None and name not in FILES:
            assert examples(said["responses"][f"{cls.status}"]), name


def test_every_example_of_a_body_passes_the_checks_of_its_shape(db: None, admin_user: Any) -> None:
    count = 0
    for name, said, cls in operations():
        for value in examples(said.get("requestBody", {})):
            sent = dict(value)
            if cls.takes_form:
                sent["file"] = SimpleUploadedFile("list.csv", sent["file"].encode())
            shape = cls.takes(data=sent, context={"user": admin_user})
            assert shape.is_valid(), (name, shape.errors)
            count += 1
    assert count > 25


def test_no_example_is_a_stopgap() -> None:
    wrong = [
        name
        for name, said, cls in operations()
        for value in examples(said["responses"].get(f"{cls.status}", {}))
        if "a few words" in str(value)
    ]
    assert wrong == [], "name a value in planner/api/examples.py"
