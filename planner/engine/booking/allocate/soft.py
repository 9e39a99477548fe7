"""Compiled minima over options: the cheapest of each request, hard and soft."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Minutes, Options
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Floats = NDArray[np.float64]

FAR = 25.0
"""An option so many temperatures above the best has no share."""
PARTS = 4
"""Parts of the requests that are summed apart; fixed, so that threads change only the time."""


@dataclass(frozen=True, slots=True)
class Kept:
    """Some of the options, by request: ``option`` are their places among all.

    ``first`` has one entry a request and one more; the rest one an option kept.
    """

    option: Longs
    first: Longs
    cost: Floats
    minutes: Floats
    pattern: Ints
    unbooked: Floats


@compiled
def cheapest(
    first: Longs, cost: Floats, minutes: Minutes, pattern: Ints, price: Floats,
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


@compiled
def _soft(
    first: Longs, cost: Floats, minutes: Floats, pattern: Ints, price: Floats,
    unbooked: Floats, temperature: float, share: Floats, load: Floats,
) -> float:  # fmt: skip
    """The sum of the soft minima of the requests that ``first`` bounds.

    Writes their options' shares and adds up the patterns' minutes.
    """
    total = 0.0
    for r in range(unbooked.shape[0]):
        low = unbooked[r]
        for o in range(first[r], first[r + 1]):
            value = cost[o] + minutes[o] * price[pattern[o]]
            share[o] = value
            low = min(low, value)
        away = (unbooked[r] - low) / temperature
        weight = np.exp(-away) if away < FAR else 0.0
        for o in range(first[r], first[r + 1]):
            away = (share[o] - low) / temperature
            share[o] = np.exp(-away) if away < FAR else 0.0
            weight += share[o]
        total += low - temperature * np.log(weight)
        for o in range(first[r], first[r + 1]):
            if share[o] > 0:
                share[o] /= weight
                load[pattern[o]] += minutes[o] * share[o]
    return total


def soft_minimum(
    kept: Kept, capacity: Capacity, prices: Floats, temperature: float,
    hands: Executor | None = None,
) -> tuple[float, Floats, Floats]:  # fmt: skip
    """The sum of soft minima at these prices, the options' shares, the patterns' minutes.

    The parts of the requests are spread over ``hands`` (threads), where there are any.
    """
    share = np.empty(len(kept.cost))
    load = np.zeros((PARTS, len(capacity.first) - 1))
    price = capacity.pattern_prices(prices)
    cuts = np.linspace(0, len(kept.unbooked), PARTS + 1).astype(np.int64)

    def part(k: int) -> float:
        low, high = cuts[k], cuts[k + 1]
        return _soft(
            kept.first[low : high + 1], kept.cost, kept.minutes, kept.pattern, price,
            kept.unbooked[low:high], temperature, share, load[k],
        )  # fmt: skip

    spread = map if hands is None else hands.map
    total = sum(spread(part, range(PARTS)))
    return float(total), share, load.sum(axis=0)


def keep_near(options: Options, capacity: Capacity, prices: Floats, width: float) -> Kept:
    """The options at most ``width`` dearer, prices included, than their request's best."""
    minutes = options.minutes.astype(np.float64)
    if np.isinf(width):
        option = np.arange(len(options.cost))
    else:
        value = options.cost + minutes * capacity.pattern_prices(prices)[capacity.pattern]
        best = options.unbooked.copy()
        np.minimum.at(best, options.request, value)
        option = np.flatnonzero(value <= best[options.request] + width)
    count = np.bincount(options.request[option], minlength=len(options.unbooked))
    return Kept(
        option=option,
        first=np.concatenate([[0], np.cumsum(count)]).astype(np.int64),
        cost=options.cost[option],
        minutes=minutes[option],
        pattern=capacity.pattern[option],
        unbooked=options.unbooked,
    )
