"""The allocation program against HiGHS called on its own, and against weak duality.

The program is built here a second time, every option a column, from the arrays of options and
capacity, and solved by HiGHS through highspy (Huangfu and Hall 2018,
doi:10.1007/s12532-017-0130-5, from memory; the solver itself is run). Weak duality: derived.
"""

from __future__ import annotations

import highspy
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.booking.allocate.ascent import ascend, evaluate
from planner.engine.booking.allocate.capacity import Capacity, build_capacity
from planner.engine.booking.allocate.linear import reduced_costs, solve_allocation
from planner.engine.booking.allocate.options import Options, build_options
from planner.engine.booking.problem import build_problem
from planner.engine.network import Network
from planner.engine.sessions.planned import planned_minutes
from tests.engine.booking.contested import contested
from tests.engine.booking.networks import random_network

CONTESTED = tuple(contested(seed, 60, hours=4) for seed in range(4))
ODD = tuple(random_network(seed) for seed in (5, 17, 52, 62, 77, 155))
PRICED = contested(7, 40, hours=3)


def program(network: Network) -> tuple[Options, Capacity]:
    """The options and the rows of a network at its planned lengths."""
    lengths = {
        item.id: planned_minutes(item, network.policy, network.grain) for item in network.profiles
    }
    problem = build_problem(network, lengths)
    options = build_options(problem)
    return options, build_capacity(problem, options)


def by_highs(options: Options, capacity: Capacity) -> float:
    """The optimum of the program by HiGHS: columns for every option and for being left out."""
    jobs, count = len(options.unbooked), len(options.cost)
    solver = highspy.Highs()  # type: ignore[no-untyped-call]  # highspy leaves it untyped
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    empty = np.zeros(0, dtype=np.int32)
    for _ in range(jobs):
        solver.addRow(1.0, 1.0, 0, empty, np.zeros(0))
    for cap in capacity.cap:
        solver.addRow(-highspy.kHighsInf, float(cap), 0, empty, np.zeros(0))
    for o in range(count):
        p = capacity.pattern[o]
        rows = capacity.rows_of[capacity.first[p] : capacity.first[p + 1]]
        index = np.concatenate([[options.request[o]], rows + jobs]).astype(np.int32)
        value = np.concatenate([[1.0], np.full(len(rows), float(options.minutes[o]))])
        solver.addCol(float(options.cost[o]), 0.0, highspy.kHighsInf, len(index), index, value)
    for job in range(jobs):
        index = np.array([job], dtype=np.int32)
        solver.addCol(float(options.unbooked[job]), 0.0, highspy.kHighsInf, 1, index, np.ones(1))
    solver.run()
    assert solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return float(solver.getObjectiveValue())


@pytest.mark.parametrize("network", [*CONTESTED, *ODD])
def test_the_program_has_the_optimum_that_highs_finds(network: Network) -> None:
    options, capacity = program(network)
    ascent = ascend(options, capacity)
    found = solve_allocation(options, capacity, ascent, seconds=60.0, left=lambda: 1.0)
    optimum = by_highs(options, capacity)
    assert found.exact
    assert found.bound == pytest.approx(optimum, rel=1e-6, abs=1e-6)
    assert ascent.bound <= optimum + 1e-6 * max(1.0, abs(optimum))


@pytest.mark.parametrize("network", CONTESTED)
def test_shares_are_a_solution_and_prices_prove_it(network: Network) -> None:
    """Complementary slackness: shares use no row beyond its cap, and only options of least cost."""
    options, capacity = program(network)
    ascent = ascend(options, capacity)
    found = solve_allocation(options, capacity, ascent, seconds=60.0, left=lambda: 1.0)
    use = np.zeros(len(capacity.cap))
    total = np.zeros(len(options.unbooked))
    cost = 0.0
    for o, share in found.share.items():
        p = capacity.pattern[o]
        use[capacity.rows_of[capacity.first[p] : capacity.first[p + 1]]] += (
            share * options.minutes[o]
        )
        total[options.request[o]] += share
        cost += share * float(options.cost[o])
    assert (use <= capacity.cap + 1e-6).all()
    assert (total <= 1 + 1e-9).all()
    cost += float((options.unbooked * (1 - total)).sum())
    assert cost == pytest.approx(found.bound, rel=1e-6)
    assert (found.prices >= 0).all()
    assert (found.prices * (capacity.cap - use) <= 1e-5 * max(1.0, cost)).all()
    reduced = reduced_costs(options, capacity, found.prices)
    least = options.unbooked.copy()
    np.minimum.at(least, options.request, reduced)
    assert all(reduced[o] <= least[options.request[o]] + 1e-6 for o in found.share)


ROWS = program(PRICED)
OPTIMUM = by_highs(*ROWS)


@given(seed=st.integers(0, 1 << 30), scale=st.sampled_from([0.0, 0.01, 0.1, 1.0, 30.0]))
@settings(max_examples=200, deadline=None)
def test_any_prices_bound_the_optimum_from_below(seed: int, scale: float) -> None:
    rng = np.random.default_rng(seed)
    prices = rng.exponential(scale, len(ROWS[1].cap)) * (rng.random(len(ROWS[1].cap)) < 0.5)
    bound, _, _ = evaluate(*ROWS, prices)
    assert bound <= OPTIMUM + 1e-6


def test_the_ascent_comes_near_the_optimum() -> None:
    """Within 0.1 % on 40 requests."""
    ascent = ascend(*ROWS)
    assert 0.999 * OPTIMUM <= ascent.bound <= OPTIMUM + 1e-6
