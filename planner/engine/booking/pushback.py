"""What did not fit goes to its next cheapest place, and places are traded while that saves cost."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.moves import Mover
from planner.engine.booking.timetable.demand import Timetable

Floats = NDArray[np.float64]

PLACES = 40
"""How many of a request's cheapest options are tried before it counts as left out."""
TRADES = 6
"""How many of its cheapest options are tried with somebody else giving way."""
YIELDERS = 3
"""How many residents of a day are asked to give way."""
EPSILON = 1e-9


def push_back(mover: Mover, queue: list[int], stop: Callable[[], bool]) -> list[int]:
    """Give each request its cheapest place that still fits; returns those that found none.

    Those who save most per minute choose first.
    """
    draft = mover.draft
    first, options = draft.options.first, draft.options

    def urgency(request: int) -> tuple[float, int]:
        option = int(first[request])
        if option >= first[request + 1]:
            return 0.0, request
        return -draft.saving(request, option) / float(options.minutes[option]), request

    left = []
    for request in sorted(queue, key=urgency):
        if stop():
            left.append(request)
            continue
        if not seat(mover, request, below=np.inf):
            left.append(request)
    return left


def seat(mover: Mover, request: int, *, below: float, avoid: int = -1) -> bool:
    """Put a request into its cheapest place that fits and costs less than ``below``."""
    found = find(mover, request, below=below, avoid=avoid)
    if found is not None:
        mover.put(*found)
    return found is not None


def find(
    mover: Mover, request: int, *, below: float, avoid: int = -1
) -> tuple[int, Timetable] | None:
    """The cheapest option that fits beside everyone else, with its day's new timetable.

    Options on day ``avoid`` are passed over, as are those that cost ``below`` or more.
    """
    options = mover.draft.options
    low, high = int(options.first[request]), int(options.first[request + 1])
    for option in range(low, min(high, low + PLACES)):
        if options.cost[option] >= below:
            return None
        if options.siteday[option] == avoid or option == mover.draft.place[request]:
            continue
        timetable = mover.fits(option)
        if timetable is not None:
            return option, timetable
    return None


def trade(mover: Mover, request: int, reduced: Floats) -> float:
    """Move a request to a cheaper place, with a resident giving way where none is free.

    ``reduced`` is the reduced cost of every option under the prices: it picks who gives way.
    Returns the cost saved (0 where nothing was changed).
    """
    draft = mover.draft
    options = draft.options
    low, high = int(options.first[request]), int(options.first[request + 1])
    now = cost_of(mover, request)
    for option in range(low, min(high, low + TRADES)):
        gain = now - float(options.cost[option])
        if gain <= EPSILON:
            return 0.0
        timetable = mover.fits(option)
        if timetable is not None:
            mover.put(option, timetable)
            return gain
        g = int(options.siteday[option])
        for other in yielders(mover, g, request, reduced):
            saved = _swap(mover, request, option, other, gain)
            if saved > EPSILON:
                return saved
    return 0.0


def _swap(mover: Mover, request: int, option: int, other: int, gain: float) -> float:
    """Let ``other`` give way to ``request`` where the two together get cheaper."""
    draft = mover.draft
    timetable = mover.fits(option, without=other)
    if timetable is None:
        return 0.0
    g = int(draft.options.siteday[option])
    was = cost_of(mover, other)
    out = float(draft.options.unbooked[other])
    elsewhere = find(mover, other, below=min(was + gain, out), avoid=g)
    cost = out if elsewhere is None else float(draft.options.cost[elsewhere[0]])
    saved = gain - (cost - was)
    if saved <= EPSILON:
        return 0.0
    old = int(draft.place[request])
    if elsewhere is not None and old >= 0:
        home = draft.options.siteday[old]
        if home != g and draft.options.siteday[elsewhere[0]] == home:
            return 0.0
    mover.take(other, keep=g)
    mover.put(option, timetable)
    if elsewhere is not None:
        mover.put(*elsewhere)
    return saved


def cost_of(mover: Mover, request: int) -> float:
    """What a request costs as things stand."""
    draft = mover.draft
    option = int(draft.place[request])
    return float(draft.options.unbooked[request] if option < 0 else draft.options.cost[option])


def yielders(mover: Mover, g: int, request: int, reduced: Floats) -> list[int]:
    """Residents of a day who would lose least by giving way, the least first."""
    draft = mover.draft
    options = draft.options
    losses = []
    for slot in draft.days[g].slots:
        other = slot.job.request
        if other == request:
            continue
        low, high = int(options.first[other]), int(options.first[other + 1])
        away = options.siteday[low:high] != g
        best = float(options.unbooked[other])
        if away.any():
            best = min(best, float(reduced[low:high][away].min()))
        losses.append((best - cost_of(mover, other), other))
    losses.sort()
    return [other for _, other in losses[:YIELDERS]]
