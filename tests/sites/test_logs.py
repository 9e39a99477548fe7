"""Logs name the request and who acts, are JSON a line, and hold no text of a foreign error."""

from __future__ import annotations

import io
import json
import logging
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from sites.audit.actor import acting, login
from sites.logs import Lines, Plain
from sites.models import Feature, Subject, User

FORMAT = "%(levelname)s %(name)s %(message)s %(request_id)s %(actor)s"


@pytest.fixture(params=[Lines, Plain], ids=["json", "plain"])
def out(request: Any) -> Iterator[io.StringIO]:
    """What is logged, everything, in one of both forms."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(request.param(FORMAT))
    root = logging.getLogger()
    levels = {name: logging.getLogger(name).level for name in ("", "planner.web.trace", "django")}
    for name in levels:
        logging.getLogger(name).setLevel(logging.INFO)
    root.addHandler(handler)
    yield text
    root.removeHandler(handler)
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)


def test_a_foreign_errors_text_is_not_logged_and_its_kind_and_place_are(
    db: None, out: io.StringIO
) -> None:
    """PostgreSQL's message holds the row's values: 'Failing row contains (…)', 'Key (…)=(…)'."""
    name = "".join(("ilmi", "planted"))  # the line of the code is logged, and may be
    User.objects.create(username=name)
    with acting(login(3), "this-request"):
        try:
            with transaction.atomic():
                User.objects.create(username=name)
        except IntegrityError:
            logging.getLogger("sites.of_a_test").exception("could not write")
    text = out.getvalue()
    assert "IntegrityError" in text
    assert "test_logs.py" in text
    assert "this-request" in text
    assert "login:3" in text
    assert "planted" not in text


def test_a_json_line_a_record() -> None:
    record = logging.LogRecord("planner.x", logging.WARNING, "", 1, "run %s waits", (7,), None)
    with acting(login(3), "this-request"):
        line = Lines(FORMAT).format(record)
    assert "\n" not in line
    assert json.loads(line) == {
        "levelname": "WARNING",
        "name": "planner.x",
        "message": "run 7 waits",
        "request_id": "this-request",
        "actor": "login:3",
    }


def test_a_request_is_logged_by_its_pattern_and_never_by_its_address(
    db: None, client: Client, out: io.StringIO
) -> None:
    Subject.objects.create(reference="s-1", family_name="Tavorenplanted")
    client.force_login(User.objects.create(username="ilmi", role="coordinator"))
    named = {"X-Request-ID": "this-request"}
    client.get("/requests/?q=Tavorenplanted", headers=named)
    client.get("/requests/planted-reference/", headers=named)
    client.get("/planted-nowhere/", headers=named)
    text = out.getvalue()
    assert text.count("this-request") >= 3
    assert "Not Found: /requests/<slug:reference>/" in text
    assert "Not Found: no page of ours" in text
    assert "planted" not in text


def test_the_cause_of_an_error_is_named_too(out: io.StringIO) -> None:
    words = "".join(("pla", "nted"))
    try:
        try:
            raise KeyError(words)
        except KeyError as inner:
            raise ValueError(words) from inner
    except ValueError:
        logging.getLogger("sites.of_a_test").exception("it failed")
    text = out.getvalue()
    assert "ValueError" in text
    assert "KeyError" in text
    assert "planted" not in text


def test_writing_is_not_hindered(db: None, out: io.StringIO) -> None:
    Feature.objects.create(code="a")
    assert out.getvalue() == ""
