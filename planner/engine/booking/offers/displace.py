"""Whose place a request could take, where they would go, and what both would cost."""

from __future__ import annotations

from planner.engine.booking.offers.around import Surroundings
from planner.engine.booking.offers.book import Change, Group, Item
from planner.engine.booking.offers.result import Displacement
from planner.engine.booking.offers.search import Found, Place, Search
from planner.engine.booking.offers.starts import Start
from planner.engine.network import Request
from planner.engine.units import DAY

MOST = 5
TRIES = 20
"""Bookings that are tried at most, the most promising first."""


def displacements(search: Search, request: Request, below: float) -> tuple[Displacement, ...]:
    """The cheapest ways to make room by moving one booking, all cheaper than ``below``.

    Only somebody without a fixed appointment is moved, and only into a free time: nobody is left
    out for another. At most `MOST`, by cost.
    """
    by_group: dict[Group, list[Place]] = {}
    for place in search.places(request):
        if not place.stays and place.charges.total < below:
            by_group.setdefault(place.group, []).append(place)
    tries: list[tuple[float, int, int, Item, list[Place]]] = []
    for group, places in by_group.items():
        cost, minutes = places[0].charges.total, places[0].need.minutes
        around = search.around.at(group, request.id)
        for item in search.book.items[group]:
            if not item.thing.key or item.fixed or item.thing.key == request.id:
                continue
            near = around[item.thing.key]
            if near.longest < minutes:
                continue
            bound = cost + _least_extra(search, request, item, near, minutes)
            if bound < below:
                tries.append((bound, item.thing.order, item.number, item, places))
    tries.sort(key=lambda entry: entry[:3])
    found: list[Displacement] = []
    for bound, _, _, item, places in tries[:TRIES]:
        if len(found) >= MOST and bound >= found[MOST - 1].cost:
            break
        one = _displace(search, request, item, places, below)
        if one is not None:
            found.append(one)
            found.sort(key=lambda entry: entry.cost)
    return tuple(found[:MOST])


def _displace(
    search: Search, request: Request, item: Item, places: list[Place], below: float
) -> Displacement | None:
    thing, book = item.thing, search.book

    def takes_it(start: Start, minutes: int) -> bool:
        same = start.station == thing.station or start.shift[0] == thing.technician
        return same and start.start < item.end and thing.order < start.start + minutes

    other = book.network.requests[item.number]
    gone = frozenset({request.id, other.id})
    mine = next(search.free(request, Change(gone), places=places, wanted=takes_it), None)
    if mine is None:
        return None
    now = search.standing(other)[0]
    theirs = [
        place for place in search.places(other) if mine.cost + place.charges.total - now < below
    ]
    best: Found | None = next(search.free(other, Change(gone, (mine.item,)), places=theirs), None)
    if best is None:
        return None
    return Displacement(
        search.offer(request, mine),
        book.booked[other.id],
        search.offer(other, best),
        best.cost - now,
    )


def _least_extra(
    search: Search, request: Request, item: Item, near: Surroundings, minutes: int
) -> float:
    """At most what moving a booking adds, ``minutes`` of its place being taken; inf: no room.

    It may go where there is room already, stay on its day where its own place leaves enough
    beside the request, or take the place that the request has now.
    """
    book = search.book
    other = book.network.requests[item.number]
    now, least = search.standing(other)
    low, high = near.both
    if high - low - minutes >= item.end - item.thing.order:
        least = min(least, now)
    mine = book.booked.get(request.id)
    if mine is not None:
        for choice in other.sites:
            day = mine.start // DAY
            if choice.site == mine.site and day >= other.release:
                charges = search.worth.charges(other, choice, day, moves=False)
                least = min(least, charges.total)
    return least - now
