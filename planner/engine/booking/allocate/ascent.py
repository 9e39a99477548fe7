"""Dual ascent on the capacity rows: a bound, and prices near the linear program's, in moments.

Each request takes its options by a soft minimum of what they cost under the prices; so smoothed,
the Lagrangian has a gradient everywhere and is climbed by projected BFGS steps, at temperatures
that fall towards the true minimum (smoothing after Nesterov 2005, doi:10.1007/s10107-004-0552-5;
from memory). Subgradients, deflected or not, stop a tenth and more below on contested networks:
there every request is torn between many options, and the hard minimum flips them all at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.climb import climb_down
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.soft import Kept, cheapest, keep_near, soft_minimum

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]

TEMPERATURES = (0.06, 0.02, 0.006, 0.002, 0.0006, 0.0002, 0.00006, 0.00002)
"""As shares of a typical cost of leaving somebody out."""
ROUNDS = (100, 100, 100, 140, 170, 260, 260, 260)
"""Evaluations at each temperature."""
NEAR = 0.02
WARM = 15.0
"""After the first temperature, options dearer than their request's best by more than `NEAR` of a
typical cost and `WARM` temperatures are set aside; each temperature looks at all of them again."""
ASTRAY = 1e-4
WIDER = 4.0
"""Where a climb went so far (a share of the bound) that options set aside would now be chosen, it
is made again from where it began, with `NEAR` as many times as wide."""
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
    ).astype(np.float64)
    return float(best.sum() - np.sum(prices * capacity.cap)), capacity.use(load), choice


def ascend(
    options: Options, capacity: Capacity, *, stages: int = len(TEMPERATURES),
    start: Floats | None = None, first: int = 0, threads: int = 1,
) -> Ascent:  # fmt: skip
    """Raise the bound through ``stages`` temperatures from ``start`` (or from zero prices).

    ``first`` is the first of them; the nearer the start, the later it may be. The number of
    ``threads`` changes only the time.
    """
    with _hands(threads) as hands:
        return _ascend(options, capacity, stages, start, first, hands)


@contextmanager
def _hands(threads: int) -> Iterator[Executor | None]:
    if threads < 2:
        yield None
        return
    with ThreadPoolExecutor(threads) as hands:
        yield hands


def _ascend(
    options: Options, capacity: Capacity, stages: int, start: Floats | None, first: int,
    hands: Executor | None,
) -> Ascent:  # fmt: skip
    prices = np.zeros(len(capacity.cap)) if start is None else start.copy()
    best, bound = prices, evaluate(options, capacity, prices)[0]
    typical = _typical(options)
    near = NEAR
    for temperature, rounds in list(zip(TEMPERATURES, ROUNDS, strict=True))[first:stages]:
        began, astray = prices, True
        while astray:
            width = np.inf if temperature == TEMPERATURES[0] else near + WARM * temperature
            kept = keep_near(options, capacity, began, width * typical)
            prices = _climb(capacity, kept, began, temperature * typical, rounds, hands)
            value = evaluate(options, capacity, prices)[0]
            astray = _least(capacity, kept, prices) - value > ASTRAY * abs(value)
            near *= WIDER if astray else 1.0
        if value > bound:
            best, bound = prices, value
    often = np.zeros(len(options.cost))
    kept = keep_near(options, capacity, best, near * typical)
    _, share, _ = soft_minimum(kept, capacity, best, TEMPERATURES[stages - 1] * typical, hands)
    often[kept.option] = share
    return Ascent(best, bound, often)


def _climb(
    capacity: Capacity, kept: Kept, prices: Floats, temperature: float, rounds: int,
    hands: Executor | None,
) -> Floats:  # fmt: skip
    """The best prices of the smoothed Lagrangian at a temperature, after ``rounds`` steps."""

    def falling(x: Floats) -> tuple[float, Floats]:
        value, _, load = soft_minimum(kept, capacity, x, temperature, hands)
        return -(value - float(np.sum(x * capacity.cap))), capacity.cap - capacity.use(load)

    return climb_down(falling, prices, rounds, TOLERANCE)


def _least(capacity: Capacity, kept: Kept, prices: Floats) -> float:
    """The Lagrangian of the options kept alone: above the bound where others would be chosen."""
    best = np.empty(len(kept.unbooked))
    choice = np.empty(len(kept.unbooked), dtype=np.int64)
    cheapest(
        kept.first, kept.cost, kept.minutes, kept.pattern, capacity.pattern_prices(prices),
        kept.unbooked, best, choice,
    )  # fmt: skip
    return float(best.sum() - np.sum(prices * capacity.cap))


def _typical(options: Options) -> float:
    """The median cost of leaving somebody out who has an option; care left aside."""
    have = np.diff(options.first) > 0
    out = options.unbooked[have & (options.unbooked > 0) & (options.unbooked < CARE)]
    return float(np.median(out)) if len(out) else 1.0


CARE = 1e6
"""Costs of leaving out above this are those of care."""
