"""A walk through every page by everybody: what was planted is in no address, log or audit entry."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from django.test import Client

from sites.models import AuditEntry, IntakeStep, Request, Subject
from tests.sites.build import World
from tests.web.asks import ASKS, LETTERS
from tests.web.planted import MARK, listening, plant, traces
from tests.web.test_intake import columns, given, latest

FIELDS = {"words", "why", "note", "reason", "advice", "detail"}
"""Fields of forms that somebody types into, names of people among them."""
SPAN = re.compile(r'(?:href|action|hx-[a-z]+|src)="([^"]*)"')


@pytest.fixture
def logged() -> Iterator[io.StringIO]:
    """Everything that is logged."""
    with listening() as text:
        yield text


def typed_into(data: dict[str, Any]) -> dict[str, Any]:
    """A form with the mark in each field that somebody types into."""
    return {name: f"{MARK} form" if name in FIELDS else value for name, value in data.items()}


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
            answer: Any = send(ask.path, typed_into(ask.data))
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
    assert "answered" in logged.getvalue()
    assert AuditEntry.objects.count() > 200
    assert traces(logged, addresses) == []
    changed = AuditEntry.objects.filter(noun="subject", what="changed")
    assert {"family_name", "phone", "email"} <= {name for each in changed for name in each.changes}


def test_what_a_list_of_candidates_holds_is_in_no_address_log_or_audit_entry(
    desk: Client, logged: io.StringIO
) -> None:
    """From its bytes to requests: names, phones, and a text where a date should be."""
    rows = f"N-1;{MARK} One;{MARK}1@x.invalid;2026-03-20\nN-2;{MARK} Two;;{MARK} soon\n"
    answers = [given(desk, f"Reference;Surname;Email;Due\n{rows}".encode())]
    one = latest()
    page = f"/intake/{one.code}/"
    answers += [desk.post(page, columns(one)), desk.post(page, {"act": "read"})]
    answers += [desk.post(page, {"act": "read"}), desk.get(page), desk.get(f"{page}problems/")]
    answers += [desk.post(page, {"act": "take", "whole": "good"}), desk.post(page, {"act": "read"})]
    assert latest().step == IntakeStep.TAKEN
    assert Subject.objects.get(requests=Request.objects.get(reference="N-1")).family_name == (
        f"{MARK} One"
    )
    texts = [answer.text for answer in answers if not answer.streaming]
    assert any(MARK in text for text in texts)  # its own page does show what stands in the file
    found = {unescape(each) for text in texts for each in SPAN.findall(text)}
    found |= {answer.headers.get("Location", "") for answer in answers}
    assert traces(logged, found) == []
