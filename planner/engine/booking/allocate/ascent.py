"""Dual ascent on the capacity rows: a bound, and prices near the linear program's, in moments.

Each request takes its options by a soft minimum of what they cost under the prices; so smoothed,
the Lagrangian has a gradient everywhere and is climbed by projected BFGS steps, at temperatures
that fall towards the true minimum (smoothing after Nesterov 2005, doi:10.1007/s10107-004-0552-5;
from memory). Subgradients, deflected or not, stop a tenth and more below on contested networks:
there every request is torn between many options, and the hard minimum flips them all at once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.climb import climb_down
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.soft import Kept, cheapest, keep_near, soft_minimum

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]

TEMPERATURES = (0.06, 0.02, 0.006, 0.002, 0.0006, 0.0002, 0.00007)
"""As shares of a typical cost of leaving somebody out."""
ROUNDS = (150, 80, 80, 80, 100, 150, 200)
"""Evaluations at each temperature."""
NEAR = 0.12
WARM = 12.0
"""After the first temperature, options dearer than their request's best by more than `NEAR` of a
typical cost and `WARM` temperatures are set aside; each temperature looks at all of them again."""
TOLERANCE = 1e-6
"""A temperature ends where ten steps bring less than this share of the value."""


@dataclass(frozen=True, slots=True)
class Ascent:
    """``prices`` by row (cost a minute, at least 0) and the ``bound`` that they prove.

    ``often[o]`` is the share of its request that option ``o`` has in the last soft minimum: near
    the optimum an estimate of the program's shares.
    """

    prices: Floats
    bound: float
    often: Floats


def evaluate(options: Options, capacity: Capacity, prices: Floats) -> tuple[float, Floats, Longs]:
    """The Lagrangian bound at ``prices``, the rows' use, and the choices that give it.

    Any prices of at least 0 give a valid bound (weak duality).
    """
    best = np.empty(len(options.unbooked))
    choice = np.empty(len(options.unbooked), dtype=np.int64)
    price = capacity.pattern_prices(prices)
    cheapest(
        options.first, options.cost, options.minutes, capacity.pattern, price,
        options.unbooked, best, choice,
    )  # fmt: skip
    taken = choice[choice >= 0]
    load = np.bincount(
        capacity.pattern[taken], weights=options.minutes[taken], minlength=len(capacity.first) - 1
    )
    return float(best.sum() - np.sum(prices * capacity.cap)), _use(capacity, load), choice


def ascend(
    options: Options, capacity: Capacity, *, stages: int = len(TEMPERATURES),
    start: Floats | None = None, first: int = 0,
) -> Ascent:  # fmt: skip
    """Raise the bound through ``stages`` temperatures from ``start`` (or from zero prices).

    ``first`` is the first of them; the nearer the start, the later it may be.
    """
    prices = np.zeros(len(capacity.cap)) if start is None else start.copy()
    best, bound = prices, evaluate(options, capacity, prices)[0]
    typical = _typical(options)
    kept: Kept | None = None
    for temperature, rounds in list(zip(TEMPERATURES, ROUNDS, strict=True))[first:stages]:
        if start is not None or temperature < TEMPERATURES[0]:
            width = (NEAR + WARM * temperature) * typical
            kept = keep_near(options, capacity, prices, width)
        prices = _climb(options, capacity, kept, prices, temperature * typical, rounds)
        value, _, _ = evaluate(options, capacity, prices)
        if value > bound:
            best, bound = prices, value
    often = np.zeros(len(options.cost))
    kept = keep_near(options, capacity, best, NEAR * typical)
    _, share, _ = soft_minimum(kept, capacity, best, TEMPERATURES[stages - 1] * typical)
    often[kept.option] = share
    return Ascent(best, bound, often)


def _climb(
    options: Options, capacity: Capacity, kept: Kept | None, prices: Floats, temperature: float,
    rounds: int,
) -> Floats:  # fmt: skip
    """The best prices of the smoothed Lagrangian at a temperature, after ``rounds`` steps."""
    if kept is None:
        kept = keep_near(options, capacity, prices, np.inf)

    def falling(x: Floats) -> tuple[float, Floats]:
        value, _, load = soft_minimum(kept, capacity, x, temperature)
        return -(value - float(np.sum(x * capacity.cap))), capacity.cap - _use(capacity, load)

    return climb_down(falling, prices, rounds, TOLERANCE)


def _use(capacity: Capacity, load: NDArray[Any]) -> Floats:
    """Minutes that the rows hold, from those of the patterns."""
    spread = np.repeat(load, np.diff(capacity.first))
    use: Floats = np.bincount(capacity.rows_of, weights=spread, minlength=len(capacity.cap)).astype(
        np.float64
    )
    return use


def _typical(options: Options) -> float:
    """The median cost of leaving somebody out who has an option; care left aside."""
    have = np.diff(options.first) > 0
    out = options.unbooked[have & (options.unbooked > 0) & (options.unbooked < CARE)]
    return float(np.median(out)) if len(out) else 1.0


CARE = 1e6
"""Costs of leaving out above this are those of care."""
