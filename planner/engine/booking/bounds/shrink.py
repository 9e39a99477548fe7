"""The gap of a plan as capacity: how much room the bound needs less to cost as much (MODEL.md)."""

from __future__ import annotations

from dataclasses import replace
from math import inf

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.ascent import ascend, evaluate
from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.bounds.program import program_of
from planner.engine.booking.draft import fixed_cost
from planner.engine.booking.problem import Problem
from planner.engine.network import Network
from planner.engine.plan import Plan

Floats = NDArray[np.float64]

STEPS = 8
CLOSE = 0.01
"""A step ends the search where it changes the share by less than this part of it."""
STEEP = 6.0
"""A per cent of capacity is worth about so many per cent of cost on contested networks: for the
first guess only."""
LARGEST_GUESS = 0.05


def gap_as_capacity(
    network: Network, plan: Plan, *, strong: bool = False, threads: int = 1
) -> float:
    """By how much all capacity could shrink before the bound reaches the plan's cost.

    The least share ``s`` (0 to 1) such that the linear program, with every row's minutes and the
    minutes of care times ``1 - s``, costs as much as ``plan``. It is found from above: prices that
    are not quite the best give a larger share, never a smaller one.

    Parameters
    ----------
    network
        What was planned.
    plan
        A plan of it that keeps rules 1 to 8; its ``lengths`` and ``objective`` are read.
    strong
        Whether the bound is the `strong_bound`, which knows the promises.
    threads
        How many may work at once; the share is the same for any number.

    """
    found = program_of(network, plan, strong=strong)
    problem, options, capacity = found.problem, found.options, found.capacity
    target = plan.objective - fixed_cost(problem)
    least, prices = inf, None
    share = min(LARGEST_GUESS, (plan.gap or 0.0) / STEEP)
    for _ in range(STEPS):
        tried = _shrunk(problem, options, capacity, share)
        first = 0 if prices is None else 1
        prices = ascend(*tried, start=prices, first=first, threads=threads).prices
        least = min(least, _reached(problem, options, capacity, prices, target))
        further = min(least, 2 * share + CLOSE)
        if abs(further - share) <= CLOSE * share or not least:
            break
        share = further
    return min(1.0, least)


def _shrunk(
    problem: Problem, options: Options, capacity: Capacity, share: float
) -> tuple[Options, Capacity]:
    """The program with less room; care shrinks along, or it would be the first to find none."""
    minutes = options.minutes.astype(np.float64)
    minutes[options.request >= len(problem.network.requests)] *= 1 - share
    return replace(options, minutes=minutes), replace(capacity, cap=(1 - share) * capacity.cap)


def _reached(
    problem: Problem, options: Options, capacity: Capacity, prices: Floats, target: float
) -> float:
    """The share at which the bound of these prices reaches ``target``; inf where it never does.

    The bound is what requests bring, and ``1 - share`` times what rows and care cost: linear in
    the share, and at most the program's value everywhere.
    """
    unbooked = options.unbooked.copy()
    unbooked[len(problem.network.requests) :] = 0.0
    people = evaluate(replace(options, unbooked=unbooked), capacity, prices)[0]
    people += float(np.sum(prices * capacity.cap))
    whole = evaluate(options, capacity, prices)[0]
    if whole >= target:
        return 0.0
    return 1 - (people - target) / (people - whole) if people > target else inf
