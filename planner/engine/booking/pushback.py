"""What did not fit goes to its next cheapest place, and places are traded while that saves cost."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from planner.engine.booking.moves import Mover
from planner.engine.booking.timetable.demand import Timetable

PLACES = 24
"""How many of a request's cheapest options are tried before it counts as left out."""
TRADES = 6
"""How many of its cheapest options are tried with somebody else giving way."""
YIELDERS = 3
"""How many residents of a day are asked to give way."""
EPSILON = 1e-9


def push_back(mover: Mover, queue: list[int], stop: Callable[[], bool]) -> list[int]:
    """Give each request its cheapest place that still fits; returns those that found none.

    Those who save most per minute choose first; once ``stop`` says so nobody more is asked for.
    """
    draft = mover.draft
    first, options = draft.options.first, draft.options

    def urgency(request: int) -> tuple[float, int]:
        option = int(first[request])
        if option >= first[request + 1]:
            return 0.0, request
        return -draft.saving(request, option) / float(options.minutes[option]), request

    left: list[int] = []
    order = sorted(queue, key=urgency)
    for k, request in enumerate(order):
        if stop():
            return left + order[k:]
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
    options, values = mover.draft.options, mover.guide
    low, high = int(options.first[request]), int(options.first[request + 1])
    own = mover.draft.place[request]
    wanted = []
    for option in values.order[low : min(high, low + PLACES)].tolist():
        if values.value[option] >= below:
            break
        if options.siteday[option] != avoid and option != own:
            wanted.append(option)
    return mover.first_that_fits(wanted)


def trade(mover: Mover, request: int) -> float:
    """Move a request to a cheaper place, with a resident giving way where none is free.

    Returns how much the guide's cost fell (0 where nothing was changed).
    """
    draft = mover.draft
    options = draft.options
    low, high = int(options.first[request]), int(options.first[request + 1])
    now = cost_of(mover, request)
    for option in mover.guide.order[low : min(high, low + TRADES)].tolist():
        gain = now - float(mover.guide.value[option])
        if gain <= EPSILON:
            return 0.0
        timetable = mover.fits(option)
        if timetable is not None:
            mover.put(option, timetable)
            return gain
        g = int(options.siteday[option])
        for other in yielders(mover, g, request):
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
    cost = out if elsewhere is None else float(mover.guide.value[elsewhere[0]])
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
    """What the guide takes a request to cost as things stand."""
    draft = mover.draft
    option = int(draft.place[request])
    return float(draft.options.unbooked[request] if option < 0 else mover.guide.value[option])


def yielders(mover: Mover, g: int, request: int) -> list[int]:
    """Residents of a day who would lose least by giving way, the least first."""
    draft = mover.draft
    losses = []
    for slot in draft.days[g].slots:
        other = slot.job.request
        if other == request:
            continue
        away = float(mover.guide.away[int(draft.place[other])])
        losses.append((away - cost_of(mover, other), other))
    losses.sort()
    return [other for _, other in losses[:YIELDERS]]
