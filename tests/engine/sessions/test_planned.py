"""The planned length and the risks of a row."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.sessions.planned import ROW, planned_minutes, row_risks
from tests.engine.sessions.build import (
    HARD,
    STANDARD,
    USUAL,
    WORN,
    bare,
    fixed,
    profile,
    promise,
)

if TYPE_CHECKING:
    from planner.engine.network import Policy, Profile


def keeps(kind: Profile, policy: Policy, grain: int, minutes: int) -> bool:
    risks = row_risks(kind, policy, grain, minutes)
    return (
        max(risks.waits) <= policy.wait_risk + 1e-9
        and risks.overtime <= policy.overtime_risk + 1e-9
    )


@pytest.mark.parametrize(("kind", "minutes"), [(STANDARD, 18), (WORN, 22), (HARD, 32)])
def test_planned_minutes_agree_with_an_independent_program(kind: Profile, minutes: int) -> None:
    assert planned_minutes(kind, USUAL, 5) == minutes


def test_a_minute_less_breaks_the_promise_by_a_hair() -> None:
    risks = row_risks(STANDARD, USUAL, 5, 17)
    assert max(risks.waits) == pytest.approx(0.104, abs=0.0005)
    assert risks.overtime < USUAL.overtime_risk


def test_row_risks_match_a_drawn_row() -> None:
    """Lindley's recursion in NumPy on continuous gamma and geometric draws, none of our grid."""
    rng, n, minutes = np.random.default_rng(8), 100_000, 17
    delay = np.zeros(n)
    risks = row_risks(STANDARD, USUAL, 5, minutes)
    for i in range(ROW):
        error = np.sqrt(max(risks.waits[i] * (1 - risks.waits[i]), 1e-9) / n)
        assert abs(np.mean(delay > 15) - risks.waits[i]) < 4 * error + 1e-9
        length = rng.gamma((7 / 3) ** 2, 9 / 7, n) + 3
        for count, seconds, r in ((3, 20, 0.10), (10, 25, 0.16)):
            tries = np.minimum(rng.geometric(1 - r, (count, n)), 3).sum(axis=0)
            length += (tries * (seconds + 30) - count * 30) / 60
        done = delay + np.where(rng.random(n) < 0.08, 0.0, length)
        told, following = (k * minutes // 5 * 5 for k in (i, i + 1))
        delay = np.maximum(0, done - (following - told))
    late = np.mean(told + done > ROW * minutes + 20)
    error = np.sqrt(risks.overtime * (1 - risks.overtime) / n)
    assert abs(late - risks.overtime) < 4 * error


kinds = st.builds(
    lambda mean, sd, retake, no_show: profile(
        (mean, sd), ((4, 20, retake),), no_show=no_show, wrapup=1
    ),
    st.floats(0, 20),
    st.floats(0, 8),
    st.floats(0, 0.6),
    st.floats(0, 1),
)
policies = st.builds(
    promise,
    st.integers(0, 30),
    st.sampled_from([0.0, 0.01, 0.1, 0.5, 1.0]),
    st.integers(0, 30),
    st.sampled_from([0.0, 0.05, 0.9, 1.0]),
)


@settings(max_examples=12, deadline=None, derandomize=True)
@given(kinds, policies, st.sampled_from([1, 5, 15]))
def test_the_planned_length_is_the_shortest_that_keeps_both_promises(
    kind: Profile, policy: Policy, grain: int
) -> None:
    minutes = planned_minutes(kind, policy, grain)
    assert keeps(kind, policy, grain, minutes)
    assert not any(keeps(kind, policy, grain, shorter) for shorter in range(1, minutes))


def test_without_chance_and_patience_the_grain_decides() -> None:
    """12 minutes told on 5: the second is told 10 at 12 to 14 minutes, and waits; at 15 nobody."""
    strict = promise(0, 0.0, 0, 0.0)
    assert planned_minutes(fixed(12), strict, 5) == 15
    assert planned_minutes(fixed(10), strict, 5) == 10
    assert planned_minutes(fixed(12), strict, 1) == 12
    assert planned_minutes(fixed(12), promise(4, 0.0, 0, 0.0), 5) == 12


def test_no_promise_at_all_needs_one_minute() -> None:
    assert planned_minutes(STANDARD, promise(0, 1.0, 0, 1.0), 5) == 1


def test_subjects_who_never_come_need_one_minute() -> None:
    assert planned_minutes(profile(no_show=1.0), promise(0, 0.0, 0, 0.0), 5) == 1


def test_a_promise_without_any_risk_plans_the_longest_session() -> None:
    strict = promise(0, 0.0, 0, 0.0)
    minutes = planned_minutes(bare(10, 3), strict, 1)
    assert minutes > 30
    assert max(row_risks(bare(10, 3), strict, 1, minutes).waits) < 1e-9


@pytest.mark.parametrize("kind", [profile((1, 500)), profile((300, 20)), profile((5000, 10), ())])
def test_long_and_wild_sessions_end_the_search(kind: Profile) -> None:
    minutes = planned_minutes(kind, USUAL, 5)
    assert keeps(kind, USUAL, 5, minutes)
    assert not keeps(kind, USUAL, 5, minutes - 1)


@pytest.mark.parametrize("kind", [STANDARD, WORN, HARD])
def test_fewer_in_the_row_need_no_longer_minutes(kind: Profile) -> None:
    """And the minutes found keep the promise in their row: its waits are the first of a longer."""
    rows = (12, 8, 6, 4, 3, 2, 1)
    minutes = [planned_minutes(kind, USUAL, 5, row) for row in rows]
    assert minutes == sorted(minutes, reverse=True)
    assert minutes[0] == planned_minutes(kind, USUAL, 5)
    for row, length in zip(rows, minutes, strict=True):
        assert max(row_risks(kind, USUAL, 5, length).waits[:row]) <= USUAL.wait_risk + 1e-9
