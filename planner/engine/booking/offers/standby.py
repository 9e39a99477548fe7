"""The days on which somebody may not come: an estimate for a waiting list."""

from __future__ import annotations

import numpy as np

from planner.engine.booking.offers.book import NO_CHANGE
from planner.engine.booking.offers.columns import Bools, Columns
from planner.engine.booking.offers.result import Chance
from planner.engine.booking.offers.search import Search
from planner.engine.booking.offers.starts import Need
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
        for chance in _chances_at(search, request, choice):
            charges = search.worth.charges(request, choice, chance.day, moves=False)
            found.append((charges.total, chance))
    found.sort(key=lambda pair: (pair[0], pair[1].day, pair[1].site))
    likely = [chance for _, chance in found if chance.chance >= LIKELY]
    if likely:
        return tuple(likely[:MOST])
    return tuple(sorted((chance for _, chance in found), key=lambda item: -item.chance)[:1])


def _chances_at(search: Search, request: Request, choice: SiteChoice) -> list[Chance]:
    """The days of a site on which somebody's place would serve."""
    site, days = search.book.index.site[choice.site], search.book.network.days
    need, mine = search.need(request, choice), search.bookings.at(site)
    serves = _serves(search, request, site, need, mine)
    day, no_show = mine.day[serves], mine.no_show[serves]
    with np.errstate(divide="ignore"):
        stay = np.bincount(day, np.log1p(-no_show), minlength=days)
    places = np.bincount(day, no_show > 0, minlength=days)
    return [
        Chance(choice.site, k, int(places[k]), float(-np.expm1(stay[k])))
        for k in places.nonzero()[0].tolist()
    ]


def _serves(search: Search, request: Request, site: int, need: Need, mine: Columns) -> Bools:
    """Of which bookings of a site the place would do."""
    end = mine.start + need.minutes
    serves: Bools = (mine.day >= request.release) & (end <= mine.high)
    serves &= search.holes.stations_with(need.features)[mine.station]
    serves &= search.holes.people_with(need.skills)[mine.person]
    if request.available:
        comes = np.zeros(len(end), dtype=np.bool_)
        for window in request.available:
            comes |= (window.start <= mine.start) & (end <= window.end)
        serves &= comes
    if not request.rework:
        freed = np.where(mine.rework, 0, mine.end - mine.start)
        for day in np.unique(mine.day).tolist():
            left = search.room.left((site, day), NO_CHANGE)
            if left is not None:
                serves &= (mine.day != day) | (need.minutes <= left + freed)
    if request.id in mine.row_of:
        serves[mine.row_of[request.id]] = False
    return serves
