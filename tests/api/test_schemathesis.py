"""Every operation against its own description, by schemathesis: no fault, no answer beside it.

Each is called as its row in `operations/` says, which has to be done (2xx), then with generated
calls: on what exists, on what does not, and with what the document forbids. The seed is fixed; each
call meets the same record, as whatever it did is taken back.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import schemathesis
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.core.result import Ok
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    missing_required_header,
    negative_data_rejection,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from planner.api.parameters import NUMBERS
from planner.wsgi import application
from sites.models import Role
from tests.api.calls import Caller, is_form
from tests.api.operations import ROWS, Row
from tests.sites.build import World

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
    negative_data_rejection,
    missing_required_header,
]
CALLS = 4
"""Generated calls of each sort, for each operation."""


@contextmanager
def kept_open() -> Iterator[None]:
    """The test's connection stays open over a call, as Django's own test client keeps it."""
    signals = (request_started, request_finished)
    for each in signals:
        each.disconnect(close_old_connections)
    yield
    for each in signals:
        each.connect(close_old_connections)


class Run:
    """One run over the document, as an administrator."""

    def __init__(self, here: World) -> None:
        self.here = here
        self.user = here.users[Role.ADMINISTRATOR]
        self.caller = Caller(self.user)
        self.schema = schemathesis.openapi.from_dict(self.caller.get("schema/").json())
        self.schema.app = application
        self.answers: dict[str, Counter[int]] = {name: Counter() for name in ROWS}
        self.failed: list[str] = []

    def send(
        self, name: str, case: Any, headers: dict[str, str], cookies: dict[str, str] | None = None
    ) -> None:
        """Call it, check the answer, take it back."""
        with transaction.atomic(), kept_open():
            answer = case.call(headers=headers, cookies=cookies)
            self.answers[name][answer.status_code] += 1
            try:
                case.validate_response(answer, checks=CHECKS, headers=headers)
            except Exception as error:
                self.failed.append(f"{name}: {error}")
            transaction.set_rollback(True)

    def own(self, name: str, row: Row, operation: Any) -> None:
        """The call of its row."""
        parts = self.parts(row)
        headers = dict(self.caller.signed)
        cookies: dict[str, str] = {}
        if row.session:
            self.caller.client.force_login(self.user)
            self.caller.client.get("/requests/")
            cookies = {name: each.value for name, each in self.caller.client.cookies.items()}
            headers = {"X-CSRFToken": cookies["csrftoken"]}
        if row.on:
            of = ROWS[row.on].path.format(**parts)
            headers["If-Match"] = self.caller.get(of)["ETag"]
        given_body = {} if row.body is None else {"body": row.body}
        kind = "multipart/form-data" if is_form(row.body) else "application/json"
        media = {} if row.body is None else {"media_type": kind}
        case = operation.Case(
            path_parameters=parts, query=row.query, headers={}, **given_body, **media
        )
        self.send(name, case, headers, cookies)

    def generated(self, name: str, row: Row, operation: Any) -> None:
        """Calls that the document allows, on what exists and on anything, and ones it forbids."""
        known = {"path_parameters": self.parts(row)} if "{" in row.path else {}
        sorts = [(GenerationMode.POSITIVE, known), (GenerationMode.NEGATIVE, known)]
        if known:
            sorts.append((GenerationMode.POSITIVE, {}))
        for mode, fixed in sorts:
            strategy = operation.as_strategy(generation_mode=mode, **fixed)

            @settings(
                derandomize=True,
                database=None,
                deadline=None,
                max_examples=CALLS,
                phases=[Phase.generate],
                suppress_health_check=list(HealthCheck),
            )
            @given(case=strategy)
            def several(case: Any) -> None:
                self.send(name, case, self.caller.signed)

            several()

    def parts(self, row: Row) -> dict[str, Any]:
        """What exists for the parts of an address."""
        found = row.parts | (row.finds(self.here, self.user) if row.finds else {})
        return {name: int(value) if name in NUMBERS else value for name, value in found.items()}


def test_every_operation_keeps_to_its_description(here: World) -> None:
    run = Run(here)
    operations = {}
    for each in run.schema.get_all_operations():
        assert isinstance(each, Ok)
        operation = each.ok()
        operations[operation.definition.raw["operationId"]] = operation
    assert set(operations) == set(ROWS)
    for name, row in ROWS.items():
        run.own(name, row, operations[name])
    done = {name for name, counts in run.answers.items() if any(200 <= s < 300 for s in counts)}
    assert set(ROWS) - done == set(), run.failed
    for name, row in ROWS.items():
        run.generated(name, row, operations[name])
    assert run.failed == []
    assert all(status < 500 for counts in run.answers.values() for status in counts)
    assert sum(sum(counts.values()) for counts in run.answers.values()) > 8 * len(ROWS)
