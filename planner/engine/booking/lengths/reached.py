"""Prices at the capacity that a plan has reached.

The share of the room that sessions fill is measured on a sample before there is a plan. A plan
tells it better: the share at which the allocation would cost what the plan costs. Prices at that
share, with a little headroom, pull people to where the plan can still become cheaper.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.ascent import TEMPERATURES, ascend
from planner.engine.booking.allocate.linear import reduced_costs
from planner.engine.booking.draft import fixed_cost
from planner.engine.booking.lengths.practice import in_practice
from planner.engine.booking.level import Level1

Floats = NDArray[np.float64]

HEADROOM = 0.004
"""What a plan is taken to gain still, as a share of the room."""
STEPS = 4
NEAR = 1e-3
"""A share of the cost that counts as met."""
LARGEST_STEP = 0.05
WARM = len(TEMPERATURES) - 4
"""The temperature that a step begins with: prices move little between steps."""


def at_reached(level: Level1, cost: float) -> Level1:
    """The level with prices at the share at which the allocation would cost ``cost``.

    Newton's method on the logarithm of the share: by duality the cost falls by the price of all
    room for every unit of it. The allocation's cost is convex in the room, so steps towards more
    room fall short of the mark rather than overshoot it.
    """
    if not level.share:
        return level
    target = cost - fixed_cost(level.problem)
    share, prices, value = level.share, level.allocation.prices, level.allocation.bound
    for _ in range(STEPS):
        slope = float(np.sum(prices * level.capacity.cap))
        if abs(value - target) <= NEAR * abs(target) or slope <= 0:
            break
        step = max(-LARGEST_STEP, min(LARGEST_STEP, (value - target) / slope))
        share *= math.exp(step)
        prices, value = _solve(level, share, prices)
    share *= 1 + HEADROOM
    prices, value = _solve(level, share, prices)
    allocation = replace(level.allocation, prices=prices, bound=value, exact=False)
    return replace(
        level,
        share=share,
        allocation=allocation,
        reduced=reduced_costs(
            in_practice(level.problem, level.choices, share), level.capacity, prices
        ),
    )


def _solve(level: Level1, share: float, prices: Floats) -> tuple[Floats, float]:
    """Prices, and what the allocation costs, at a share of the room; from prices that are near."""
    held = in_practice(level.problem, level.choices, share)
    found = ascend(held, level.capacity, start=prices, first=WARM)
    return found.prices, found.bound
