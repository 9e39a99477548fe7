"""What places are taken to cost while the search goes on: the cost, and a share of the price."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.options import Options
from planner.engine.compiled import compiled

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Guide:
    """``value[o]`` is what option ``o`` is taken to cost; ``order`` sorts by request and value.

    ``away[o]`` is the least that the request would cost off the option's site-day, prices included:
    what it stands to lose there.
    """

    value: Floats
    order: Longs
    away: Floats


def guide(options: Options, reduced: Floats, share: float, before: Guide | None = None) -> Guide:
    """A guide with ``share`` (0 to 1) of the price of the minutes that a place takes.

    ``reduced`` is cost plus price. With a share of 0 the guide is the objective. ``before`` is one
    of the same options and prices, from which the order is near.
    """
    value = options.cost + share * (reduced - options.cost)
    if before is None:
        order = np.lexsort((value, options.request)).astype(np.int64)
        return Guide(value, order, _away(options, reduced))
    order = before.order.copy()
    sort_again(options.first, value, order)
    return Guide(value, order, before.away)


@compiled
def sort_again(first: Longs, value: Floats, order: Longs) -> None:
    """Sort each request's part of ``order`` by value, from an order that is nearly right."""
    for r in range(first.shape[0] - 1):
        for k in range(first[r] + 1, first[r + 1]):
            option, at = order[k], k
            while at > first[r] and value[order[at - 1]] > value[option]:
                order[at] = order[at - 1]
                at -= 1
            order[at] = option


def _away(options: Options, reduced: Floats) -> Floats:
    """Least reduced cost of each option's request on any other site-day, or left out."""
    order = np.lexsort((reduced, options.request))
    request, siteday = options.request[order], options.siteday[order]
    first = np.searchsorted(request, np.arange(len(options.unbooked)))
    last = np.append(first[1:], len(order))
    away = np.empty(len(reduced))
    best = options.unbooked.copy()
    some = first < last
    best_g = np.full(len(best), -1, dtype=np.int64)
    best[some] = reduced[order[first[some]]]
    best_g[some] = siteday[first[some]]
    other = np.where(siteday == best_g[request], np.inf, reduced[order])
    second = np.full(len(best), np.inf)
    np.minimum.at(second, request, other)
    here = options.siteday == best_g[options.request]
    away = np.where(here, second[options.request], best[options.request])
    found: Floats = np.minimum(away, options.unbooked[options.request])
    return found
