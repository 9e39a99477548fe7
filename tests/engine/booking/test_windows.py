"""Rows for times finer than half a day: they bind where they must and never refuse a plan."""

from __future__ import annotations

import random

import pytest

from planner.engine.booking import Options
from planner.engine.booking.allocate.capacity import build_capacity
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.allocate.windows import allowed_span, with_windows
from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.problem import Problem, build_problem
from planner.engine.network import Network, Request, Window
from tests.engine.booking.build import at, one_desk, plan_and_proof, request
from tests.engine.monolith import solve_monolith

NOON_HOUR = Window(at(11, 30), at(12, 30))


def problem_of(given: Network) -> Problem:
    return build_problem(with_breaks_in_shifts(given), {"m20": 20})


def people(count: int, *available: Window) -> tuple[Request, ...]:
    return tuple(request(f"r{k}", "m20", "hall", available=available) for k in range(count))


@pytest.mark.parametrize("hour", [Window(at(9), at(10)), Window(at(14), at(15))])
def test_an_hour_that_all_want_bounds_the_cost_by_those_it_cannot_hold(hour: Window) -> None:
    """Ten people of 20 minutes want one hour of one desk: three fit, seven cost what absence does.

    Hand calculation; without the row all ten would fit the half day, and the bound would be 0.
    """
    given = one_desk(people(10, hour))
    found, proof = plan_and_proof(given, Options(effort=1))
    assert len(found.bookings) == 3
    left_out = 7 * given.policy.cost.unbooked
    assert proof == pytest.approx(left_out, rel=1e-4)
    assert found.objective == pytest.approx(left_out)


def test_who_may_come_on_both_sides_of_noon_is_held_to_each_side() -> None:
    """From 11:30 to 12:30; a session of 20 minutes may begin at 11:59 and end 19 minutes later."""
    problem = problem_of(one_desk(people(1, NOON_HOUR)))
    options = build_options(problem)
    low, high = allowed_span(problem, options)
    spans = {(int(options.part[o]), int(low[o]), int(high[o])) for o in range(2)}
    assert spans == {(0, at(11, 30), at(12) - 1 + 20), (1, at(12), at(12, 30))}


def test_two_windows_in_one_part_make_one_span_around_both() -> None:
    """Whoever may come at 9 or at 11 lies somewhere from 9 to 12."""
    windows = (Window(at(9), at(10)), Window(at(11), at(11, 40)))
    problem = problem_of(one_desk(people(1, *windows)))
    options = build_options(problem)
    low, high = allowed_span(problem, options)
    assert (int(low[0]), int(high[0])) == (at(9), at(11, 40))


def test_nobody_with_narrow_times_means_no_row() -> None:
    problem = problem_of(one_desk(people(30)))
    options = build_options(problem)
    capacity = build_capacity(problem, options)
    assert with_windows(problem, options, capacity) is capacity


@pytest.mark.parametrize("seed", range(12))
def test_the_bound_stays_below_the_optimum_where_hours_are_crowded(seed: int) -> None:
    """Against one exact model of the whole network, which knows no rows (derived)."""
    rng = random.Random(seed)
    wanted = []
    for k in range(rng.randint(6, 11)):
        start = at(9) + 10 * rng.randint(0, 30)
        hours = Window(start, start + rng.choice([20, 30, 40, 60]))
        wanted.append(
            request(f"r{k}", "m20", "hall", available=(hours,), weight=rng.choice([1, 2]))
        )
    given = one_desk(tuple(wanted), start=at(9), end=at(15))
    found, proof = plan_and_proof(given, Options(effort=1))
    best = solve_monolith(given, {"m20": 20}, 5.0)
    assert best is not None
    assert proof <= best.cost + 1e-6
    assert found.objective >= best.bound - 1e-6
