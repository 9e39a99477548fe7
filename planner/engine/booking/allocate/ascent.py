"""Dual ascent on the capacity rows: a bound, and prices near the linear program's, in moments.

Each request takes its cheapest option under the prices; the rows' excess is a subgradient.
Deflected subgradients after Camerini, Fratta and Maffioli (1975), step length after Polyak (1969;
both from memory). Of the ways tried (the volume algorithm, Adam, diagonal scaling) this came
nearest to the linear program's value in the same time.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Floats = NDArray[np.float64]

LEVEL = 0.05
MEMORY = 0.9
PATIENCE = 20
SHRINK = 0.7
OBSERVED_FROM = 0.25
"""The part of the rounds after which choices are counted."""


@dataclass(frozen=True, slots=True)
class Ascent:
    """``prices`` by row (cost a minute, at least 0) and the ``bound`` that they prove.

    ``often[o]`` is the share of the last evaluations in which option ``o`` was its request's
    cheapest: near the optimum an estimate of the program's shares.
    """

    prices: Floats
    bound: float
    often: Floats


@compiled
def cheapest(
    first: Longs, cost: Floats, minutes: Ints, pattern: Ints, price: Floats,
    unbooked: Floats, best: Floats, choice: Longs,
) -> None:  # fmt: skip
    """Every request's cheapest option under the pattern prices, and what it costs.

    Writes ``best`` (cost) and ``choice`` (option, -1: left out), one entry a request.
    """
    for r in range(unbooked.shape[0]):
        low, pick = unbooked[r], -1
        for o in range(first[r], first[r + 1]):
            value = cost[o] + minutes[o] * price[pattern[o]]
            if value < low:
                low, pick = value, o
        best[r], choice[r] = low, pick


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
    spread = np.repeat(load, np.diff(capacity.first))
    use: Floats = np.bincount(capacity.rows_of, weights=spread, minlength=len(capacity.cap)).astype(
        np.float64
    )
    return float(best.sum() - prices @ capacity.cap), use, choice


def ascend(
    options: Options, capacity: Capacity, *, rounds: int, start: Floats | None = None
) -> Ascent:
    """Raise the bound for ``rounds`` evaluations from ``start`` (or from zero prices).

    Steps follow Polyak's rule against a level a little above the best bound, along a subgradient
    that remembers its past; after twenty rounds without gain the step shrinks and the walk
    returns to the best prices found.
    """
    prices = np.zeros(len(capacity.cap)) if start is None else start.copy()
    best, bound = prices, -np.inf
    direction = np.zeros_like(prices)
    scale, stuck = 1.0, 0
    often, seen = np.zeros(len(options.cost)), 0
    for number in range(rounds):
        value, use, choice = evaluate(options, capacity, prices)
        if number >= rounds * OBSERVED_FROM:
            often[choice[choice >= 0]] += 1
            seen += 1
        if value > bound + 1e-6 * abs(value):
            best, bound, stuck = prices, value, 0
        else:
            stuck += 1
            if stuck == PATIENCE:
                scale, stuck, prices = scale * SHRINK, 0, best
                direction = np.zeros_like(prices)
                _, use, _ = evaluate(options, capacity, prices)
        excess = use - capacity.cap
        slope = np.where((prices <= 0) & (excess < 0), 0.0, excess)
        direction = MEMORY * direction + slope
        size = float(direction @ direction)
        if size < 1e-9:
            break
        step = scale * LEVEL * max(abs(bound), 1.0) / size
        prices = np.maximum(0.0, prices + step * direction)
    return Ascent(best, bound, often / max(1, seen))
