"""The search for free times: best first, each checked before it is offered."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush
from itertools import count

import numpy as np

from planner.engine.booking.offers.book import NO_CHANGE, Book, Change, Group, Item, Span
from planner.engine.booking.offers.columns import Bookings, Bools, Floats
from planner.engine.booking.offers.holes import Holes
from planner.engine.booking.offers.islands import Islands
from planner.engine.booking.offers.result import Charges, Offer
from planner.engine.booking.offers.room import Room
from planner.engine.booking.offers.starts import Need, Start, starts
from planner.engine.booking.offers.worth import Worth
from planner.engine.network import Request, SiteChoice
from planner.engine.sessions.things import Thing
from planner.engine.units import DAY, NOON

Wanted = Callable[[Charges], bool]
"""Whether a place that is charged so much is worth a look."""


@dataclass(frozen=True, slots=True)
class Place:
    """A part of a site-day for a request, with what it costs and what its minutes are worth."""

    choice: SiteChoice
    group: Group
    part: Span
    need: Need
    charges: Charges
    stays: bool
    minute_price: float

    @property
    def price(self) -> float:
        """What the planned minutes are worth to others."""
        return self.minute_price * self.need.minutes


@dataclass(frozen=True, slots=True)
class Found:
    """A start that keeps every rule, as the item it would be, and P(wait)."""

    place: Place
    item: Item
    p_wait: float

    @property
    def cost(self) -> float:
        """What the objective would charge."""
        return self.place.charges.total


@dataclass(slots=True)
class Spread:
    """Keeps free times apart, so that a short list is a choice of days and hours.

    At most ``most`` in a part of a site-day, told at least ``apart`` minutes from each other. The
    place that a request has already is always wanted.
    """

    most: int
    apart: int
    _kept: dict[tuple[Group, int], list[int]] = field(default_factory=dict)

    def wants(self, place: Place, told: int) -> bool:
        """Whether a time is far enough from the better ones."""
        kept = self._kept.get((place.group, place.part[0]), [])
        near = any(abs(told - other) < self.apart for other in kept)
        return place.stays or (len(kept) < self.most and not near)

    def add(self, place: Place, told: int) -> None:
        """Keep a time."""
        self._kept.setdefault((place.group, place.part[0]), []).append(told)


@dataclass(slots=True)
class Search:
    """Everything that a search looks at."""

    book: Book
    holes: Holes
    islands: Islands
    room: Room
    worth: Worth
    bookings: Bookings
    _standing: dict[int, tuple[Floats, Floats]] = field(default_factory=dict)
    _times: dict[tuple[Group, Need], bool] = field(default_factory=dict)

    def need(self, request: Request, choice: SiteChoice) -> Need:
        """What a request takes at one of its sites."""
        network, index = self.book.network, self.book.index
        name = choice.profile or request.profile
        skills = frozenset(request.skills) | set(network.profiles[index.profile[name]].skills)
        minutes = self.book.plan.lengths[name]
        return Need(minutes, name, frozenset(request.features), skills)

    def places(self, request: Request, wanted: Wanted = lambda _: True) -> Iterator[Place]:
        """Every part of a site-day at which the request may be served by rule 1 and its dates.

        Only those whose cost is ``wanted``.
        """
        book = self.book
        home = self.worth.movable.get(request.id)
        for choice in request.sites:
            need = self.need(request, choice)
            site = book.index.site[choice.site]
            for day in range(max(0, request.release), book.network.days):
                group = (site, day)
                if group not in book.openings:
                    continue
                stay = home is not None and home.start // DAY == day
                charged = [
                    (charges, stays)
                    for stays in ((False, True) if stay else (False,))
                    if wanted(
                        charges := self.worth.charges(
                            request, choice, day, moves=home is not None and not stays
                        )
                    )
                ]
                if not charged:
                    continue
                base = day * DAY
                for part in ((base, base + NOON), (base + NOON, base + DAY)):
                    price = self.worth.minute_price(group, part[0], need.features, need.skills)
                    for charges, stays in charged:
                        yield Place(choice, group, part, need, charges, stays, price)

    def standing_at(self, site: int, rows: Bools) -> tuple[Floats, Floats]:
        """What the bookings of a site cost now, and at least in any other free time (inf: none).

        Free times are those beside the plan as it is; each keeps its promises at some hour.

        Both by booking of the site, as in its columns; only those of ``rows`` are sure to be known,
        and fixed appointments never are (nan).
        """
        items = self.bookings.at(site).items
        if site not in self._standing:
            self._standing[site] = np.full(len(items), np.nan), np.full(len(items), np.nan)
        now, least = self._standing[site]
        for row in np.flatnonzero(rows & np.isnan(now)).tolist():
            request = self.book.network.requests[items[row].number]
            now[row], least[row] = self.present(request), self._elsewhere(request)
        return now, least

    def present(self, request: Request) -> float:
        """What a booked request costs now."""
        book = self.book
        booking = book.booked[request.id]
        choice = next(item for item in request.sites if item.site == booking.site)
        station, technician = book.index.station, book.index.technician
        moves = request.id in self.worth.movable and not self.worth.stays(
            request.id, station[booking.station], technician[booking.technician], booking.start
        )
        return self.worth.charges(request, choice, booking.start // DAY, moves=moves).total

    def _elsewhere(self, request: Request) -> float:
        book = self.book
        least = math.inf
        for choice in request.sites:
            need = self.need(request, choice)
            site = book.index.site[choice.site]
            for day in range(max(0, request.release), book.network.days):
                group = (site, day)
                if group not in book.openings:
                    continue
                if self._has_time(group, need, request):
                    charges = self.worth.charges(request, choice, day, moves=False)
                    least = min(least, charges.total)
                    break  # a later day at the same site costs no less
        return least

    def _has_time(self, group: Group, need: Need, request: Request) -> bool:
        """Whether a site-day has a free time for a need that keeps every promise, at any hour."""
        if self.holes.longest(group, need.features, need.skills) < need.minutes:
            return False
        key = (group, need)
        if key not in self._times:
            day = (group[1] * DAY, group[1] * DAY + DAY)
            any_hour = replace(request, available=())
            found = starts(self.holes, group, NO_CHANGE, any_hour, need, day,
                           promised=self.islands.promised)  # fmt: skip
            self._times[key] = any(
                self.islands.fits(self._booked_at(request, group, need, start), NO_CHANGE)
                is not None
                for start in found
            )
        return self._times[key]

    def held(self, request: Request, place: Place, change: Change) -> int:
        """By how many minutes a booking there would reach into a reserve for rework (rule 8)."""
        left = None if request.rework else self.room.left(place.group, change)
        return 0 if left is None else max(0, place.need.minutes - left)

    def free(
        self,
        request: Request,
        change: Change,
        *,
        held: bool = False,
        places: Iterable[Place] | None = None,
        taking: Item | None = None,
        spread: Spread | None = None,
    ) -> Iterator[Found]:
        """The free times of a request, by cost, price and told time; one a site and told time.

        Nothing is looked at before it is asked for: a site-day is opened when no other can hold a
        better time, and a promise is checked when its time is the best left.

        Parameters
        ----------
        request, change
            For whom, and in which plan.
        held
            Only times that nothing but the reserve keeps from the request.
        places
            Only in these places; else in all of `places`.
        taking
            Only starts that use this item's station or its technician while it would.
        spread
            Leaves out what lies too close to better ones.

        """
        heap: list[tuple[tuple[float, float, int, int], int, Place, Iterator[Start], Start | None]]
        heap, order = [], count()
        for place in self.places(request) if places is None else places:
            if (self.held(request, place, change) > 0) == held:
                found = starts(self.holes, place.group, change, request, place.need, place.part,
                               taking, self.islands.promised)  # fmt: skip
                key = (place.charges.total, place.price, -1, place.group[0])
                heappush(heap, (key, next(order), place, found, None))
        told: set[tuple[int, int]] = set()
        while heap:
            key, _, place, coming, start = heappop(heap)
            upcoming = next(coming, None)
            if upcoming is not None:
                further = (key[0], key[1], upcoming.told, key[3])
                heappush(heap, (further, next(order), place, coming, upcoming))
            if start is None or (place.group[0], start.told) in told:
                continue
            if self._at_home(request, place, start) != place.stays:
                continue
            if spread is not None and not spread.wants(place, start.told):
                continue
            item = self.item(request, place, start)
            p_wait = self.islands.fits(item, change)
            if p_wait is not None:
                told.add((place.group[0], start.told))
                if spread is not None:
                    spread.add(place, start.told)
                yield Found(place, item, p_wait)

    def _at_home(self, request: Request, place: Place, start: Start) -> bool:
        return request.id in self.worth.movable and self.worth.stays(
            request.id, start.station, start.shift[0], start.start
        )

    def item(self, request: Request, place: Place, start: Start) -> Item:
        """A start as an item of the book."""
        return self._booked_at(request, place.group, place.need, start)

    def _booked_at(self, request: Request, group: Group, need: Need, start: Start) -> Item:
        thing = Thing(
            start.start, start.told, start.station, start.shift[0], 0, request.id, need.profile
        )
        number = self.book.index.request.get(request.id, len(self.book.network.requests))
        return Item(
            thing, start.start + need.minutes, group, start.shift[1], fixed=False, number=number,
            rework=request.rework,
        )  # fmt: skip

    def offer(self, request: Request, found: Found) -> Offer:
        """A found time as it is told."""
        place, thing, network = found.place, found.item.thing, self.book.network
        day = place.group[1]
        days = (max(0, day - request.due), day - request.release)
        level = self.worth.level(place.minute_price)
        station = network.stations[thing.station].id
        technician = network.technicians[thing.technician].id
        now = self.book.booked.get(request.id)
        return Offer(
            site=place.choice.site,
            station=station,
            technician=technician,
            start=thing.order,
            told=thing.own,
            minutes=place.need.minutes,
            travel=place.choice.travel,
            delay_days=days[0],
            wait_days=days[1],
            p_wait=found.p_wait,
            price=place.price,
            minute_price=place.minute_price,
            level=level,
            charges=place.charges,
            why=self.worth.why(
                place.charges, days, place.choice.travel, (place.minute_price, level)
            ),
            current=now is not None
            and (now.station, now.technician, now.told) == (station, technician, thing.own),
        )
