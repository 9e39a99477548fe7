"""What a day's reserve leaves to requests that are not rework (rule 8)."""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.engine.booking.offers.book import Book, Change, Group, Item, Span
from planner.engine.booking.offers.holes import common, less
from planner.engine.units import DAY


@dataclass(slots=True)
class Room:
    """The minutes that are left on each site-day with a reserve, found when first asked for."""

    book: Book
    _left: dict[Group, int] = field(default_factory=dict)

    def left(self, group: Group, change: Change) -> int | None:
        """Minutes that bookings that are not rework may still take; None without a reserve."""
        if group not in self.book.reserve:
            return None
        if group not in self._left:
            room = min(self._station_minutes(group), self._technician_minutes(group))
            self._left[group] = room - self.book.reserve[group] - self._used(group)
        freed = sum(self._frees(group, name) for name in change.gone)
        added = sum(
            item.end - item.thing.order
            for item in change.added
            if item.group == group and _counts(item)
        )
        return self._left[group] + freed - added

    def _frees(self, group: Group, request: str) -> int:
        """The minutes that a booking of the day, if there is one, takes of what is left."""
        booking, index = self.book.booked.get(request), self.book.index
        if booking is None or (index.site[booking.site], booking.start // DAY) != group:
            return 0
        rework = self.book.network.requests[index.request[request]].rework
        return 0 if rework else booking.minutes

    def _used(self, group: Group) -> int:
        return sum(item.end - item.thing.order for item in self.book.items[group] if _counts(item))

    def _station_minutes(self, group: Group) -> int:
        """Open minutes of the stations, less closed times and care."""
        book = self.book
        opening = union(book.openings[group])
        return sum(
            minutes(
                less(
                    opening,
                    _certain(book.on_station[station, group[1]]),
                )
            )
            for station in book.stations_at[group[0]]
        )

    def _technician_minutes(self, group: Group) -> int:
        """Minutes on shift inside opening hours, less breaks and care."""
        book = self.book
        opening = union(book.openings[group])
        total = 0
        for person, number in book.shifts_at[group]:
            shift = book.network.technicians[person].shifts[number]
            there = common([(shift.start, shift.end)], opening)
            total += minutes(less(there, _certain(book.on_shift[person, number])))
        return total


def _certain(items: list[Item]) -> list[Span]:
    """The times of what is no booking."""
    return sorted((item.thing.order, item.end) for item in items if not item.thing.key)


def _counts(item: Item) -> bool:
    return bool(item.thing.key) and not item.rework


def union(spans: list[Span]) -> list[Span]:
    """Sorted, disjoint spans with those that touch made one."""
    joined: list[Span] = []
    for start, end in spans:
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def minutes(spans: list[Span]) -> int:
    """How many minutes disjoint spans hold."""
    return sum(end - start for start, end in spans)
