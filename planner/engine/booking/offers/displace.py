"""Whose place a request could take, where they would go, and what both would cost."""

from __future__ import annotations

from heapq import nsmallest

import numpy as np

from planner.engine.booking.offers.book import Change, Group, Item
from planner.engine.booking.offers.result import Displacement
from planner.engine.booking.offers.search import Found, Place, Search
from planner.engine.network import Request
from planner.engine.units import DAY

MOST = 5
TRIES = 10
"""Bookings that are tried at most, the most promising first."""
UNSURE = 2
"""Of these, bookings that go nowhere but to what leaves room only through the change: of 70 tried
at M (seed 1) one found a place, and each takes as long as ten of the others."""


Try = tuple[bool, float, int, int, Item]
"""Whether unsure, and what both would cost at least, if this booking gave way.

Its start and number put ties right.
"""


def displacements(search: Search, request: Request, below: float) -> tuple[Displacement, ...]:
    """The cheapest ways to make room by moving one booking, all cheaper than ``below``.

    Only somebody without a fixed appointment is moved, and only into a free time: nobody is left
    out for another. At most `MOST`, by cost.
    """
    by_group: dict[Group, list[Place]] = {}
    for place in search.places(request, lambda charges: charges.total < below):
        if not place.stays:
            by_group.setdefault(place.group, []).append(place)
    by_site: dict[int, list[Place]] = {}
    for places in by_group.values():
        by_site.setdefault(places[0].group[0], []).append(places[0])
    tries = [
        one
        for site, firsts in by_site.items()
        for one in _tries(search, request, site, firsts, below)
    ]
    found: list[Displacement] = []
    unsure = 0
    for is_unsure, least, _, _, item in nsmallest(TRIES, tries, key=lambda one: one[:4]):
        unsure += is_unsure
        if unsure > UNSURE or (len(found) >= MOST and least >= found[MOST - 1].cost):
            break
        made = _displace(search, request, item, by_group[item.group], below)
        if made is not None:
            found.append(made)
            found.sort(key=lambda entry: entry.cost)
    return tuple(found[:MOST])


def _tries(
    search: Search, request: Request, site: int, places: list[Place], below: float
) -> list[Try]:
    """The bookings of a site that are worth a try, and the least that they would cost.

    ``places`` has one of each day. A booking that gives way goes where there is room already. Where
    that costs too much it is unsure: it may stay on its day, where its own place leaves enough
    beside the request, or take the place that the request has now.
    """
    mine, minutes = search.bookings.at(site, request.id), places[0].need.minutes
    cost = np.full(search.book.network.days, np.inf)
    cost[[place.group[1] for place in places]] = [place.charges.total for place in places]
    cost = cost[mine.day]
    rows = ~mine.fixed & (mine.longest >= minutes) & (cost < below)
    if request.id in mine.row_of:
        rows[mine.row_of[request.id]] = False
    now, away = search.standing_at(site, rows)
    stays = mine.high - mine.low - minutes >= mine.end - mine.start
    least = np.where(stays, now, np.inf)
    own = search.book.booked.get(request.id)
    if own is not None:
        least = np.minimum(least, search.bookings.charges(site, own.site, own.start // DAY))
    sure = cost + (away - now) < below
    bound = cost + (np.where(sure, away, least) - now)
    rows &= bound < below
    return [
        (not sure[row], float(bound[row]), item.thing.order, item.number, item)
        for row in np.flatnonzero(rows).tolist()
        if (item := mine.items[row])
    ]


def _displace(
    search: Search, request: Request, item: Item, places: list[Place], below: float
) -> Displacement | None:
    book = search.book
    other = book.network.requests[item.number]
    gone = frozenset({request.id, other.id})
    mine = next(search.free(request, Change(gone), places=places, taking=item), None)
    if mine is None:
        return None
    now = search.present(other)
    theirs = search.places(other, lambda charges: mine.cost + charges.total - now < below)
    best: Found | None = next(search.free(other, Change(gone, (mine.item,)), places=theirs), None)
    if best is None:
        return None
    return Displacement(
        search.offer(request, mine),
        book.booked[other.id],
        search.offer(other, best),
        best.cost - now,
    )
