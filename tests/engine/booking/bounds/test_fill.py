"""What a free stretch may hold, against counts by hand and orders tried one by one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from math import ceil

import numpy as np
import pytest
from numpy.typing import NDArray

from planner.engine.booking.bounds.fill import UNIT, Kind, Row, fill
from planner.engine.network import Policy, Profile
from planner.engine.sessions.length import session_length
from tests.engine.booking.build import FULL, USUAL, certain_profile

NO_LIMIT = 700
CALM = replace(USUAL, wait_risk=1.0)
GRAIN = 5
SHORT = replace(FULL, id="short", captures=FULL.captures[:1])


def kind(profile: Profile, minutes: int, weight: float) -> Kind:
    return Kind(minutes, session_length(profile), round(weight / UNIT))


def held(kinds: Sequence[Kind], row: Row, policy: Policy = CALM) -> float:
    return fill(kinds, policy, GRAIN, row).most(row) * UNIT


def test_certain_sessions_fill_whole_multiples_of_the_room() -> None:
    """By hand: six of 20 fill 120 minutes; 114 hold 110 at most (35 + 35 + 20 + 20)."""
    kinds = [kind(certain_profile(35), 35, 35.0), kind(certain_profile(20), 20, 20.0)]
    assert held(kinds, Row(planned=120, room=NO_LIMIT, last=NO_LIMIT)) == pytest.approx(120.0)
    assert held(kinds, Row(planned=114, room=NO_LIMIT, last=NO_LIMIT)) == pytest.approx(110.0)


def test_the_room_binds_where_planned_minutes_are_too_short() -> None:
    """By hand: sessions of 20 minutes end within 100 minutes five times."""
    row = Row(planned=200, room=100, last=NO_LIMIT)
    assert held([kind(certain_profile(20), 10, 1.0)], row) == pytest.approx(5.0)


@pytest.mark.parametrize(("wait", "sessions"), [(0, 5), (4, 5), (8, 6), (20, 6)])
def test_nobody_is_told_so_early_that_they_wait_longer_than_promised(
    wait: int, sessions: int
) -> None:
    """By hand: sessions take 23 minutes and are planned at 20; the last may end at 130 as planned.

    Where nobody waits they are told at 0, 25, 50, 75 and 100, a sixth at 125; where nobody waits
    more than 8 minutes at 0, 20, 40, 65, 85 and 110, to begin at 0, 23, 46, 69, 92 and 115.
    """
    policy = replace(USUAL, wait_minutes=wait, wait_risk=0.0)
    row = Row(planned=NO_LIMIT, room=NO_LIMIT, last=130)
    assert held([kind(certain_profile(23), 20, 1.0)], row, policy) == pytest.approx(sessions)


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
    policy = replace(CALM, overtime_risk=risk)
    found = held([kind(FULL, 1, 1.0)], Row(planned=room, room=room, last=NO_LIMIT), policy)
    assert number <= found <= number + 1


@pytest.mark.parametrize("policy", [USUAL, replace(USUAL, wait_minutes=5, wait_risk=0.02)])
def test_no_order_of_sessions_needs_less(policy: Policy) -> None:
    """Every order of up to five sessions, by plain convolutions on the lengths' own grid."""
    limit = Row(NO_LIMIT, NO_LIMIT, NO_LIMIT)
    kinds = [kind(FULL, 14, 16.0), kind(SHORT, 4, 5.0), kind(certain_profile(23), 20, 23.0)]
    found = fill(kinds, policy, GRAIN, limit)
    tried = 0
    for number in range(1, 6):
        for order in product(kinds, repeat=number):
            told, end, last = one_by_one(order, policy)
            weight = sum(each.weight for each in order)
            assert found.planned[weight] <= sum(each.minutes for each in order)
            assert found.told[weight] <= told
            assert found.last[weight] <= last
            assert found.end[weight] <= end + 1e-6
            tried += 1
    assert tried == 3 + 9 + 27 + 81 + 243


def test_sessions_of_one_kind_need_what_their_only_order_needs() -> None:
    """Not less either, but for roundings: half a step of 5 seconds a session, and a grain."""
    one = kind(FULL, 14, 16.0)
    found = fill([one], USUAL, GRAIN, Row(NO_LIMIT, NO_LIMIT, NO_LIMIT))
    told, end, _ = one_by_one([one] * 24, USUAL)
    assert told - GRAIN <= found.told[24 * one.weight] <= told
    assert end - GRAIN - 1 <= found.end[24 * one.weight] <= end


def one_by_one(order: Sequence[Kind], policy: Policy) -> tuple[int, float, int]:
    """When the next one is told, the end but for its risk, and the last planned end, of a row.

    Lindley's recursion on a grid of 5 seconds: each is told as early as the promise allows.
    """
    told, last = 0, 0
    chance: NDArray[np.float64] = np.ones(1)
    for each in order:
        step = each.length.step
        first = round(told / step)
        start = np.zeros(max(len(chance), first + 1))
        start[: len(chance)] = chance
        start[first] += start[:first].sum()
        start[:first] = 0.0
        chance = np.convolve(start, each.length.booked_pmf)
        last = max(last, told) + each.minutes
        until = np.cumsum(chance)
        ready = float(np.argmax(until >= 1 - policy.wait_risk - 1e-9)) * step
        end = float(np.argmax(until >= 1 - policy.overtime_risk - 1e-9)) * step
        wait = ceil((ready - policy.wait_minutes - 1e-9) / GRAIN) * GRAIN
        told = max(wait, last // GRAIN * GRAIN)
    return told, end, last


def test_a_mix_holds_at_least_what_either_kind_does_alone() -> None:
    sure, drawn = kind(certain_profile(35), 35, 37.0), kind(FULL, 14, 17.0)
    row = Row(planned=480, room=500, last=480)
    both = held([sure, drawn], row, USUAL)
    assert both >= max(held([sure], row, USUAL), held([drawn], row, USUAL))
