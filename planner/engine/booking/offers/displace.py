"""Whose place a request could take, where they would go, and what both would cost."""

from __future__ import annotations

from planner.engine.booking.offers.book import Change, Item
from planner.engine.booking.offers.holes import common
from planner.engine.booking.offers.result import Displacement
from planner.engine.booking.offers.search import Found, Place, Search
from planner.engine.booking.offers.starts import Start
from planner.engine.network import Request
from planner.engine.units import DAY

MOST = 5
TRIES = 40
"""Bookings that are tried at most, the most promising first."""


def displacements(search: Search, request: Request, below: float) -> tuple[Displacement, ...]:
    """The cheapest ways to make room by moving one booking, all cheaper than ``below``.

    Only somebody without a fixed appointment is moved, and only into a free time: nobody is left
    out for another. At most `MOST`, by cost.
    """
    by_group: dict[tuple[int, int], list[Place]] = {}
    for place in search.places(request):
        if not place.stays and place.charges.total < below:
            by_group.setdefault(place.group, []).append(place)
    tries: list[tuple[float, int, int, Item, list[Place]]] = []
    for places in sorted(by_group.values(), key=lambda item: item[0].charges.total):
        cost = places[0].charges.total
        for item in search.book.items[places[0].group]:
            if item.thing.key and not item.fixed and item.thing.key != request.id:
                bound = cost + _least_extra(search, item, places[0].need.minutes)
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

    other = book.network.requests[book.index.request[thing.key]]
    gone = frozenset({request.id, other.id})
    mine = next(search.free(request, Change(gone), places=places, wanted=takes_it), None)
    if mine is None:
        return None
    now = present_cost(search, other)
    theirs = [
        place
        for place in search.places(other)
        if mine.cost + place.charges.total - now < below
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


def present_cost(search: Search, request: Request) -> float:
    """What the objective charges for a request where it is booked now."""
    book, worth = search.book, search.worth
    booking = book.booked[request.id]
    choice = next(item for item in request.sites if item.site == booking.site)
    station = book.index.station[booking.station]
    technician = book.index.technician[booking.technician]
    moves = request.id in worth.movable and not worth.stays(
        request.id, station, technician, booking.start
    )
    return worth.charges(request, choice, booking.start // DAY, moves=moves).total


def _least_extra(search: Search, item: Item, minutes: int) -> float:
    """At most what moving a booking adds, ``minutes`` of its place being taken; inf: no room.

    A site-day has room if some pair of a station and a technician has a free time that is long
    enough, or if the booking's own leaves enough beside the request.
    """
    book = search.book
    other = book.network.requests[book.index.request[item.thing.key]]
    least = float("inf")
    for choice in other.sites:
        need = search.need(other, choice)
        site = book.index.site[choice.site]
        for day in range(max(0, other.release), book.network.days):
            group = (site, day)
            if group not in book.openings:
                continue
            room = search.holes.longest(group, need.features, need.skills)
            if group == item.group:
                room = max(room, _around(search, item) - minutes)
            if room >= need.minutes:
                charges = search.worth.charges(other, choice, day, moves=False)
                least = min(least, charges.total)
                break  # a later day at the same site costs no less
    return least - present_cost(search, other)


def _around(search: Search, item: Item) -> int:
    """The free minutes of a booking's station and technician that its own time lies in."""
    change, thing = Change(frozenset({item.thing.key})), item.thing
    both = common(
        search.holes.station(item.group, thing.station, change),
        search.holes.shift((thing.technician, item.shift), item.group[1], change),
    )
    return next(high - low for low, high in both if low <= thing.order < high)
