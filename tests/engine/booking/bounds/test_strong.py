"""The strong bound between the usual one and the true optimum, or any plan."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.booking import Options, plan, strong_bound
from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.bounds.program import program_of
from planner.engine.booking.draft import fixed_cost
from planner.engine.network import Network
from planner.engine.plan import Plan
from tests.engine.booking.brute import Search
from tests.engine.booking.build import FULL, USUAL, at, one_desk, request
from tests.engine.booking.contested import contested
from tests.engine.booking.test_brute_force import SEEDS, lengths_of, tiny, tried
from tests.outside.highs import by_highs

CROWD = tuple(request(f"r{k}", "full", "hall", due=0) for k in range(60))


def usual_bound(given: Network, found: Plan) -> float:
    usual = program_of(given, found, strong=False)
    return ascend(usual.options, usual.capacity).bound + fixed_cost(usual.problem)


def test_it_is_no_more_than_the_optimum_of_tiny_networks() -> None:
    """Their sessions are certain, so the optimum under rules 1 to 8 keeps rule 9 (`brute`)."""
    checked = 0
    for seed in SEEDS:
        given = tiny(seed)
        optimum = Search(given, lengths_of(given)).optimum()
        result = tried(given)
        if result is None:
            continue
        checked += 1
        strong = strong_bound(given, result[0])
        assert strong <= optimum + 1e-6, seed
        assert strong >= usual_bound(given, result[0]) - 1e-3 * optimum - 1e-6, seed
    assert checked >= 25


@pytest.mark.parametrize("seed", range(3))
def test_its_program_has_no_less_value_and_no_plan_costs_less(seed: int) -> None:
    """HiGHS solves both programs."""
    given = contested(seed, 60, hours=4)
    found = plan(given, Options(effort=1))
    usual, strong = (program_of(given, found, strong=wanted) for wanted in (False, True))
    exact = by_highs(strong.options, strong.capacity)
    assert exact >= by_highs(usual.options, usual.capacity) - 1e-6
    assert strong_bound(given, found) <= exact + 1e-6 * exact
    assert exact <= found.objective + 1e-6


def test_a_full_day_of_drawn_sessions_is_bounded_by_the_promises() -> None:
    """Planned at 14 minutes, 34 would fit a day by length; 480 / 15.77 do not by their mean."""
    given = one_desk(CROWD, at(9), at(17), profiles=(FULL,), policy=USUAL)
    found = replace(plan(given, Options(effort=1)), lengths={"full": 14})
    assert usual_bound(given, found) == pytest.approx(30.0 * (60 - 480 / 14), rel=1e-3)
    strong = strong_bound(given, found)
    assert strong > 30.0 * (60 - 480 / 15.77)
    assert strong <= found.objective
