"""A walk through every page by everybody: what was planted is in no address, log or audit entry."""

from __future__ import annotations

import io
import json
import logging
import re
import zipfile
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from django.apps import apps
from django.db import models
from django.test import Client

from sites.audit.sources import described, is_loud
from sites.logs import Lines
from sites.models import AuditEntry
from tests.sites.build import World
from tests.web.asks import ASKS, LETTERS

MARK = "planted"
KEPT = {
    *("reference", "control_number", "code", "username", "password", "timezone", "what"),
    *("holiday_country", "holiday_subdivision", "edition", "algorithm_version"),
}
"""What pages go by: references, codes; and what would end the walk if it were changed."""
SPAN = re.compile(r'(?:href|action|hx-[a-z]+|src)="([^"]*)"')


def typed() -> Iterator[tuple[type[models.Model], models.Field]]:  # type: ignore[type-arg]
    """Every column of the record that holds text which somebody types, names and contact too."""
    for model in apps.get_app_config("record").get_models():
        if not model._meta.managed:
            continue
        for field in model._meta.concrete_fields:
            text = isinstance(field, models.CharField | models.TextField)
            codes = field.name in KEPT or field.name.endswith(("_key", "_digest"))
            if text and not is_loud(field) and not codes and not field.choices:
                yield model, field


MADE = {"programmeversion", "intake", "intakeblock"}
"""Rows whose texts a program reads: rules, and a list as sealed JSON, which nobody types."""


def plant() -> int:
    """Write a text that is nowhere else into all of them, row by row as services and forms do."""
    count = 0
    for model, field in typed():
        room = field.max_length or 100
        for row in model._default_manager.all():
            if room >= len(MARK) and described(model).noun not in MADE:
                setattr(row, field.name, f"{MARK}{count}"[:room])
                row.save(update_fields=[field.name])
                count += 1
    return count


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    """Everything that is logged, down to the least."""
    text = io.StringIO()
    handler = logging.StreamHandler(text)
    handler.setFormatter(Lines("%(levelname)s %(name)s %(message)s %(request_id)s %(actor)s"))
    names = ("", "planner", "planner.web.trace", "sites", "django", "django.request")
    levels = {name: logging.getLogger(name).level for name in names}
    for name in names:
        logging.getLogger(name).setLevel(logging.INFO)
    logging.getLogger().addHandler(handler)
    yield text
    logging.getLogger().removeHandler(handler)
    for name, level in levels.items():
        logging.getLogger(name).setLevel(level)


def words_of(content: bytes) -> str:
    """A page as text; of a spreadsheet, which is a ZIP file, all its parts."""
    if not content.startswith(b"PK"):
        return content.decode()
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        return "".join(parts.read(name).decode("utf-8", "replace") for name in parts.namelist())


def test_what_was_planted_is_in_no_address_log_or_audit_entry(
    here: World, client: Client, logged: io.StringIO
) -> None:
    assert plant() > 60
    addresses: set[str] = set()
    seen_on_pages = 0
    for role in LETTERS.values():
        client.force_login(here.users[role])
        for ask in ASKS:
            send = getattr(client, ask.method)
            answer: Any = send(ask.path, ask.data)
            addresses.add(answer.headers.get("Location", ""))
            if answer.streaming:
                text = b"".join(answer.streaming_content).decode()
                assert MARK not in text, ask.path
                continue
            text = words_of(answer.content)
            seen_on_pages += MARK in text
            addresses |= {unescape(found) for found in SPAN.findall(text)}
    assert seen_on_pages > 10  # the pages do show what was planted, to who may see it
    assert len(addresses) > 30
    assert [each for each in addresses if MARK in each.lower()] == []
    assert "answered" in logged.getvalue()
    assert MARK not in logged.getvalue()
    entries = list(AuditEntry.objects.values_list("noun", "what", "changes", "actor", "request"))
    assert len(entries) > 200
    assert [entry for entry in entries if MARK in json.dumps(entry)] == []
    changed = AuditEntry.objects.filter(noun="subject", what="changed")
    assert {"family_name", "phone", "email"} <= {name for each in changed for name in each.changes}
