"""The days on which somebody may not come: an estimate for a waiting list."""

from __future__ import annotations

import math

from planner.engine.booking.offers.book import NO_CHANGE, Group
from planner.engine.booking.offers.result import Chance
from planner.engine.booking.offers.search import Search
from planner.engine.network import Request, SiteChoice

LIKELY = 0.5
MOST = 3


def chances(search: Search, request: Request) -> tuple[Chance, ...]:
    """The first days, by cost, on which a place is likelier than not to come free.

    At most `MOST`; where no day is likely, the likeliest. Somebody's place serves the request if
    station and technician have what it asks for and it ends before what follows, with the person
    waiting at hand. No-shows are the profiles' rates, taken as independent; what a late start
    would do to promises later that day is not looked at.
    """
    found: list[tuple[float, Chance]] = []
    for choice in request.sites:
        site = search.book.index.site[choice.site]
        for day in range(max(0, request.release), search.book.network.days):
            chance = _chance(search, request, choice, (site, day))
            if chance is not None:
                charges = search.worth.charges(request, choice, day, moves=False)
                found.append((charges.total, chance))
    found.sort(key=lambda pair: (pair[0], pair[1].day, pair[1].site))
    likely = [chance for _, chance in found if chance.chance >= LIKELY]
    if likely:
        return tuple(likely[:MOST])
    return tuple(sorted((chance for _, chance in found), key=lambda item: -item.chance)[:1])


def _chance(search: Search, request: Request, choice: SiteChoice, group: Group) -> Chance | None:
    book, index = search.book, search.book.index
    need = search.need(request, choice)
    around = search.around.at(group)
    left = None if request.rework else search.room.left(group, NO_CHANGE)
    stay, places = 0.0, 0
    for item in book.items[group]:
        thing = item.thing
        if not thing.key or thing.key == request.id:
            continue
        end = thing.order + need.minutes
        network = book.network
        freed = 0 if item.rework else item.end - thing.order
        if (
            (left is None or need.minutes <= left + freed)
            and end <= around[thing.key].both[1]
            and need.features <= set(network.stations[thing.station].features)
            and need.skills <= set(network.technicians[thing.technician].skills)
            and _available(request, thing.order, end)
        ):
            no_show = network.profiles[index.profile[thing.profile]].no_show
            places += no_show > 0
            stay += math.log1p(-no_show) if no_show < 1 else -math.inf
    if not places:
        return None
    return Chance(choice.site, group[1], places, -math.expm1(stay))


def _available(request: Request, start: int, end: int) -> bool:
    return not request.available or any(
        window.start <= start and end <= window.end for window in request.available
    )
