"""What a row of sessions may hold, against counts by hand and plain convolutions."""

from __future__ import annotations

import numpy as np
import pytest

from planner.engine.booking.bounds.fill import Row, most
from planner.engine.network import Profile
from planner.engine.sessions.length import session_length
from tests.engine.booking.build import FULL, certain_profile

NO_LIMIT = 700


def held(profiles: list[Profile], minutes: list[int], weights: list[float], row: Row) -> float:
    return most([session_length(profile) for profile in profiles], minutes, weights, row)


def test_certain_sessions_fill_whole_multiples_of_the_room() -> None:
    """By hand: six of 20 fill 120 minutes; 114 hold 110 at most (35 + 35 + 20 + 20)."""
    kinds = [certain_profile(35), certain_profile(20)]
    row = Row(planned=120, room=NO_LIMIT, risk=0.0, wait=NO_LIMIT, wait_risk=0.0)
    assert held(kinds, [35, 20], [35.0, 20.0], row) == pytest.approx(120.0)
    row = Row(planned=114, room=NO_LIMIT, risk=0.0, wait=NO_LIMIT, wait_risk=0.0)
    assert held(kinds, [35, 20], [35.0, 20.0], row) == pytest.approx(110.0)


def test_the_room_binds_where_planned_minutes_are_too_short() -> None:
    """By hand: sessions of 20 minutes end within 100 minutes five times."""
    row = Row(planned=200, room=100, risk=0.0, wait=NO_LIMIT, wait_risk=0.0)
    assert held([certain_profile(20)], [10], [1.0], row) == pytest.approx(5.0)


def test_the_last_session_may_begin_late_by_the_wait() -> None:
    """By hand: the sixth of six begins at 100 = 120 - 20; a seventh would at 120."""
    row = Row(planned=200, room=NO_LIMIT, risk=0.0, wait=125, wait_risk=0.0)
    assert held([certain_profile(20)], [20], [1.0], row) == pytest.approx(6.0)


@pytest.mark.parametrize("room", [60, 200, 500])
@pytest.mark.parametrize("risk", [0.01, 0.05, 0.3])
def test_drawn_sessions_fill_what_convolutions_say(room: int, risk: float) -> None:
    """The number that plain convolution allows, or one more where roundings let it pass."""
    length = session_length(FULL)
    total, number = np.ones(1), 0
    while True:
        total = np.convolve(total, length.booked_pmf)
        inside = total[: round(room / length.step) + 1].sum()
        if 1 - inside > risk:
            break
        number += 1
    row = Row(planned=room, room=room, risk=risk, wait=NO_LIMIT, wait_risk=1.0)
    assert number <= held([FULL], [1], [1.0], row) <= number + 1


def test_a_mix_holds_at_least_what_either_kind_does_alone() -> None:
    rough = [certain_profile(35), FULL]
    row = Row(planned=480, room=500, risk=0.05, wait=495, wait_risk=0.1)
    both = held(rough, [35, 14], [37.0, 17.0], row)
    assert both >= max(held([rough[0]], [35], [37.0], row), held([FULL], [14], [17.0], row))
