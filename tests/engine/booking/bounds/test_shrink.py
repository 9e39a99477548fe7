"""The gap as capacity against hand calculations and a linear program of another library."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.engine.booking import Options as Budget
from planner.engine.booking import gap_as_capacity, plan
from planner.engine.booking.allocate.capacity import build_capacity
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.problem import build_problem
from planner.engine.network import Care, Network
from planner.engine.plan import Plan
from tests.engine.booking.build import at, one_desk, request
from tests.engine.booking.contested import contested
from tests.outside.highs import by_highs

HOUR = tuple(request(f"r{k}", "m20", "hall", due=0) for k in range(3))


def test_an_hour_that_holds_three_can_lose_a_third_before_two_are_the_best() -> None:
    """By hand: the program costs 30 * 3 s with a share s less room, and two booked cost 30."""
    given = one_desk(HOUR, at(9), at(10))
    found = plan(given, Budget(effort=1))
    assert found.objective == pytest.approx(0.0)
    assert gap_as_capacity(given, found) == 0.0
    worse = replace(found, objective=30.0, gap=None)
    assert gap_as_capacity(given, worse) == pytest.approx(1 / 3, abs=1e-3)


def test_care_shrinks_along_and_never_stops_fitting() -> None:
    """By hand: 20 of 60 minutes are care's; people have (1 - s) 40, and one of two costs 30."""
    care = (Care("wipe", "desk", 20, 0, 0, technician=True),)
    given = one_desk(HOUR[:2], at(9), at(10), care=care)
    found = plan(given, Budget(effort=1))
    assert found.objective == pytest.approx(0.0)
    worse = replace(found, objective=30.0, gap=None)
    assert gap_as_capacity(given, worse) == pytest.approx(1 / 2, abs=1e-3)


def test_a_plan_that_books_nobody_lets_all_room_go() -> None:
    given = one_desk(HOUR, at(9), at(10))
    found = plan(given, Budget(effort=1))
    assert gap_as_capacity(given, replace(found, objective=90.0, gap=None)) == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(4))
def test_the_program_with_so_much_less_room_costs_what_the_plan_costs(seed: int) -> None:
    """HiGHS solves the program with the room that is left; the share errs upwards only."""
    given = contested(seed, 60)
    found = plan(given, Budget(effort=1))
    share = gap_as_capacity(given, found)
    assert 0 < share < 0.3
    assert program(given, found, share) >= found.objective * (1 - 1e-6)
    assert program(given, found, 0.97 * share) <= found.objective


def program(given: Network, found: Plan, share: float) -> float:
    """The linear program's value, by HiGHS, where rows and care have so much less."""
    problem = build_problem(given, found.lengths)
    options = build_options(problem)
    capacity = build_capacity(problem, options)
    care = options.request >= len(given.requests)
    minutes = options.minutes * np.where(care, 1 - share, 1.0)
    less = replace(capacity, cap=(1 - share) * capacity.cap)
    return by_highs(replace(options, minutes=minutes), less)
