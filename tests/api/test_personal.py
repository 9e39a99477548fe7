"""Every operation is called with planted words: no address, log or audit entry holds one."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

from sites.models import AuditEntry, Role
from tests.api.calls import Caller
from tests.api.operations import ROWS
from tests.api.test_who import call
from tests.sites.build import World
from tests.web.planted import MARK, listening, plant, traces

TYPED = {"why", "note", "reason", "detail", "advice", "name", "words"}
"""Members of bodies that somebody types into, names of people among them."""
ADDRESS = re.compile(r'"((?:/|https?:)[^"]*)"')


def planted(body: Any) -> Any:
    """A body with the mark in each typed member."""
    if not isinstance(body, dict):
        return body
    return {name: f"{MARK} body" if name in TYPED else value for name, value in body.items()}


def test_what_was_planted_is_in_no_address_log_or_audit_entry(here: World) -> None:
    assert plant() > 60
    bodies = [row for row in ROWS.values() if MARK in json.dumps(planted(row.body), default=str)]
    assert len(bodies) > 5
    addresses: set[str] = set()
    done = shown = 0
    with listening() as logged:
        for role in (Role.COORDINATOR, Role.TECHNICIAN):
            caller = Caller(here.users[role])
            for row in ROWS.values():
                if row.session or "whoami" in row.path:
                    continue
                answer = call(replace(row, body=planted(row.body)), here, caller, here.users[role])
                text = answer.content.decode()
                done += answer.status_code < 300
                shown += MARK in text
                addresses |= set(ADDRESS.findall(text))
                addresses |= {answer.headers.get(each, "") for each in ("Location", "Link")}
        assert done > 60
        assert shown > 10  # the answers do show what was planted, to who may see it
        assert "answered" in logged.getvalue()
        assert AuditEntry.objects.count() > 200
        assert traces(logged, addresses) == []
