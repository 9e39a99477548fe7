"""Notices are sent beside planning where a mail server is named, and not in the demo."""

from __future__ import annotations

from threading import Event
from typing import Any

import pytest

from planner.gateway.runs.beside import notices_beside


@pytest.mark.parametrize(
    ("mail", "demo", "sends"),
    [("smtp://127.0.0.1:25", False, True), ("", False, False), (True, True, False)],
)
def test_a_sender_runs_beside_only_where_it_should(
    settings: Any, mail: object, demo: bool, sends: bool
) -> None:
    settings.MAIL, settings.DEMO = mail, demo
    done = Event()
    done.set()  # it would end before its first look
    assert notices_beside(done) == sends
