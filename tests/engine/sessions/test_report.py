"""The rows about each kind of session."""

from __future__ import annotations

from planner.engine.sessions.length import session_length
from planner.engine.sessions.report import session_rows
from tests.engine.sessions.build import HARD, STANDARD, one_desk, promise


def test_a_row_for_each_profile_in_the_networks_order() -> None:
    rows = session_rows(one_desk((HARD, STANDARD), {}))
    assert [(row.profile, row.planned) for row in rows] == [("hard", 32), ("usual", 18)]
    assert rows[0].q95 == session_length(HARD).quantile(0.95)
    assert rows[1].p_unmet == session_length(STANDARD).p_unmet


def test_the_planned_length_follows_the_networks_policy() -> None:
    patient = one_desk((STANDARD,), {}, policy=promise(120, 0.5, 240, 0.5))
    assert session_rows(patient)[0].planned < 18
