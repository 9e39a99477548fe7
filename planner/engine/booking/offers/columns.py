"""The bookings of a site as columns, so that thousands are looked at in one step."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.offers.book import Book, Item, Span
from planner.engine.network import Request

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(slots=True)
class Columns:
    """One entry a booking of a site, fixed appointments included, in the book's order.

    ``day``, ``start`` and ``end`` are the booking's, ``station`` and ``person`` places in the
    network's lists, ``no_show`` a probability. ``at_station`` and ``in_shift``, of shape
    (bookings, 2), give the time ``[low, high)`` around it in which the station, and the
    technician, would be free, were it not there. ``row_of`` gives a request's entry.
    """

    items: list[Item]
    row_of: dict[str, int]
    day: Ints
    start: Ints
    end: Ints
    station: Ints
    person: Ints
    fixed: Bools
    rework: Bools
    no_show: Floats
    at_station: Ints
    in_shift: Ints

    @property
    def low(self) -> Ints:
        """When both could be free from."""
        found: Ints = np.maximum(self.at_station[:, 0], self.in_shift[:, 0])
        return found

    @property
    def high(self) -> Ints:
        """When the first of the two is needed again."""
        found: Ints = np.minimum(self.at_station[:, 1], self.in_shift[:, 1])
        return found

    @property
    def longest(self) -> Ints:
        """The longer of the two in minutes: no free time that uses one of them here is longer."""
        station, shift = self.at_station, self.in_shift
        found: Ints = np.maximum(station[:, 1] - station[:, 0], shift[:, 1] - shift[:, 0])
        return found

    def write(self, book: Book, item: Item, gone: str = "") -> None:
        """Say what is around the bookings at an item's station and in its shift."""
        thing, day = item.thing, item.group[1]
        shift = book.network.technicians[thing.technician].shifts[item.shift]
        stations = _spans(book.on_station[thing.station, day], book.openings[item.group], gone)
        shifts = _spans(
            book.on_shift[thing.technician, item.shift], [(shift.start, shift.end)], gone
        )
        for table, spans in ((self.at_station, stations), (self.in_shift, shifts)):
            for name, span in spans.items():
                table[self.row_of[name]] = span

    def without(self, book: Book, request: str) -> Columns:
        """The same, with the booking of a request in nobody's way."""
        made = replace(self, at_station=self.at_station.copy(), in_shift=self.in_shift.copy())
        made.write(book, self.items[self.row_of[request]], request)
        return made


@dataclass(slots=True)
class Bookings:
    """The bookings of all sites as columns, made when first asked for."""

    book: Book
    _known: dict[int, Columns] = field(default_factory=dict)
    _dates: dict[int, tuple[Floats, Ints, Ints]] = field(default_factory=dict)
    _travel: dict[tuple[int, str], Floats] = field(default_factory=dict)

    def at(self, site: int, gone: str = "") -> Columns:
        """Those of a site; with ``gone`` the booking of that request is in nobody's way."""
        found = self._known.get(site)
        if found is None:
            found = self._known[site] = self._read(site)
        return found.without(self.book, gone) if gone in found.row_of else found

    def _read(self, site: int) -> Columns:
        book, network = self.book, self.book.network
        days = [book.items.get((site, day), []) for day in range(network.days)]
        items = [item for day in days for item in day if item.thing.key]
        things = [item.thing for item in items]
        rates = {profile.id: profile.no_show for profile in network.profiles}
        made = Columns(
            items,
            {thing.key: row for row, thing in enumerate(things)},
            _ints([item.group[1] for item in items]),
            _ints([thing.order for thing in things]),
            _ints([item.end for item in items]),
            _ints([thing.station for thing in things]),
            _ints([thing.technician for thing in things]),
            np.array([item.fixed for item in items], dtype=np.bool_),
            np.array([item.rework for item in items], dtype=np.bool_),
            np.array([rates[thing.profile] for thing in things], dtype=np.float64),
            np.zeros((len(items), 2), dtype=np.int64),
            np.zeros((len(items), 2), dtype=np.int64),
        )
        # A booking of each station-day and of each shift brings in all the others there.
        by_station = {(item.thing.station, item.group[1]): item for item in items}
        by_shift = {(item.thing.technician, item.shift): item for item in items}
        for item in (*by_station.values(), *by_shift.values()):
            made.write(book, item)
        return made

    def charges(self, site: int, to: str, day: int) -> Floats:
        """What each booking of a site would be charged at the site ``to`` on a day; inf: never.

        Moves are left out.
        """
        if site not in self._dates:
            requests = self._requests(site)
            self._dates[site] = (
                np.array([item.weight for item in requests], dtype=np.float64),
                _ints([item.due for item in requests]),
                _ints([item.release for item in requests]),
            )
        if (site, to) not in self._travel:
            travel = [_travel(item, to) for item in self._requests(site)]
            self._travel[site, to] = np.array(travel, dtype=np.float64)
        weight, due, release = self._dates[site]
        cost = self.book.network.policy.cost
        late = weight * cost.late_day * np.maximum(0, day - due)
        wait = weight * cost.wait_day * np.maximum(0, day - release)
        total = late + wait + cost.travel_minute * self._travel[site, to]
        reached = (release <= day) & np.isfinite(self._travel[site, to])
        return np.where(reached, total, np.inf)

    def _requests(self, site: int) -> list[Request]:
        return [self.book.network.requests[item.number] for item in self.at(site).items]


def _ints(values: list[int]) -> Ints:
    return np.array(values, dtype=np.int64)


def _travel(request: Request, site: str) -> float:
    """Minutes of travel to a site; inf where it is none of the request's."""
    return next((float(item.travel) for item in request.sites if item.site == site), np.inf)


def _spans(items: list[Item], within: list[Span], gone: str) -> dict[str, Span]:
    """For each booking among the items, in order of start, the time around it."""
    found: dict[str, Span] = {}
    kept = [item for item in items if not gone or item.thing.key != gone]
    ends = -1
    for k, item in enumerate(kept):
        start, name = item.thing.order, item.thing.key
        if name:
            low, high = next(span for span in within if span[0] <= start < span[1])
            following = kept[k + 1].thing.order if k + 1 < len(kept) else high
            found[name] = (max(low, ends), min(high, following))
        ends = max(ends, item.end)
    return found
