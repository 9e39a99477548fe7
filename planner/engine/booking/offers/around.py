"""The free time around every booking, should it not be there."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.engine.booking.offers.book import Book, Group, Item, Span
from planner.engine.units import DAY


@dataclass(frozen=True, slots=True)
class Surroundings:
    """The time ``[low, high)`` that a booking lies in, free but for it: station's, technician's."""

    station: Span
    shift: Span

    @property
    def both(self) -> Span:
        """The time in which both would be free."""
        return max(self.station[0], self.shift[0]), min(self.station[1], self.shift[1])

    @property
    def longest(self) -> int:
        """The longer of the two in minutes: no hole that uses one of them here is longer."""
        return max(self.station[1] - self.station[0], self.shift[1] - self.shift[0])


@dataclass(slots=True)
class Around:
    """The surroundings of the bookings of a book, found when first asked for."""

    book: Book
    _known: dict[Group, dict[str, Surroundings]] = field(default_factory=dict)

    def at(self, group: Group, gone: str = "") -> dict[str, Surroundings]:
        """Those of a site-day by request, with the booking of the request ``gone`` left out."""
        booking = self.book.booked.get(gone)
        if booking is None or booking.start // DAY != group[1]:
            if group not in self._known:
                self._known[group] = self._find(group, "")
            return self._known[group]
        return self._find(group, gone)

    def _find(self, group: Group, gone: str) -> dict[str, Surroundings]:
        book = self.book
        openings = book.openings.get(group, [])
        stations: dict[str, Span] = {}
        for station in book.stations_at[group[0]]:
            stations |= _spans(book.on_station[station, group[1]], openings, gone)
        shifts: dict[str, Span] = {}
        for person, number in book.shifts_at[group]:
            shift = book.network.technicians[person].shifts[number]
            whole = [(shift.start, shift.end)]
            shifts |= _spans(book.on_shift[person, number], whole, gone)
        return {name: Surroundings(span, shifts[name]) for name, span in stations.items()}


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
