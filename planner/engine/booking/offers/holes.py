"""Free time: of a station, of a shift, and of the two together (rules 3 and 4).

Only free times that hold the shortest planned length count: a full day then has few of them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.offers.book import (
    NO_CHANGE,
    Book,
    Change,
    Group,
    Item,
    ShiftKey,
    Span,
    after,
)
from planner.engine.units import DAY

KEPT = 512
"""Days under a change whose free times are kept."""

Words = frozenset[str]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Hole:
    """A time ``[low, high)`` in which a station, and a technician in a shift, are both free."""

    low: int
    high: int
    station: int
    shift: ShiftKey


Part = tuple[frozenset[str], tuple[Item, ...]]
"""What of a change is on one day: bookings taken out, and put in."""


@dataclass(slots=True)
class Touched:
    """What a change touches: stations on days, technicians on days; and its part of each day."""

    stations: set[tuple[int, int]]
    people: set[tuple[int, int]]
    days: dict[int, Part]


@dataclass(slots=True)
class Holes:
    """The free times of a book, found when first asked for."""

    book: Book
    shortest: int = field(init=False)
    features: list[Words] = field(init=False)
    skills: list[Words] = field(init=False)
    _stations: dict[Group, list[Span]] = field(default_factory=dict)
    _shifts: dict[ShiftKey, list[Span]] = field(default_factory=dict)
    _holes: dict[Group, list[Hole]] = field(default_factory=dict)
    _changed: dict[tuple[Group, Part], list[Hole]] = field(default_factory=dict)
    _longest: dict[tuple[Group, Words, Words], int] = field(default_factory=dict)
    _able: dict[Words, Bools] = field(default_factory=dict)
    _skilled: dict[Words, Bools] = field(default_factory=dict)
    _last: tuple[Change, Touched] = field(init=False)

    def __post_init__(self) -> None:
        network = self.book.network
        self.shortest = min(self.book.plan.lengths.values(), default=1)
        self.features = [frozenset(station.features) for station in network.stations]
        self.skills = [frozenset(person.skills) for person in network.technicians]
        self._last = (NO_CHANGE, Touched(set(), set(), {}))

    def stations_with(self, features: Words) -> Bools:
        """By station, whether it has all of some features."""
        if features not in self._able:
            self._able[features] = np.array(
                [features <= mine for mine in self.features], dtype=np.bool_
            )
        return self._able[features]

    def people_with(self, skills: Words) -> Bools:
        """By technician, whether they have all of some skills."""
        if skills not in self._skilled:
            self._skilled[skills] = np.array(
                [skills <= mine for mine in self.skills], dtype=np.bool_
            )
        return self._skilled[skills]

    def station(self, group: Group, station: int, change: Change) -> list[Span]:
        """When a station of a site-day takes somebody."""
        key = (station, group[1])
        if key in self._touched(change).stations:
            items = after(self.book.on_station[key], change)
            return self._free(self.book.openings[group], [*items, *_with(change, station=station)])
        if key not in self._stations:
            self._stations[key] = self._free(self.book.openings[group], self.book.on_station[key])
        return self._stations[key]

    def shift(self, key: ShiftKey, day: int, change: Change) -> list[Span]:
        """When a technician is free within a shift that touches a day."""
        shift = self.book.network.technicians[key[0]].shifts[key[1]]
        whole = [(shift.start, shift.end)]
        if (key[0], day) in self._touched(change).people:
            items = after(self.book.on_shift[key], change)
            return self._free(whole, [*items, *_with(change, person=key[0])])
        if key not in self._shifts:
            self._shifts[key] = self._free(whole, self.book.on_shift[key])
        return self._shifts[key]

    def _free(self, spans: list[Span], items: list[Item]) -> list[Span]:
        busy = sorted((item.thing.order, item.end) for item in items)
        return [(a, b) for a, b in less(spans, busy) if b - a >= self.shortest]

    def at(self, group: Group, change: Change) -> list[Hole]:
        """The free times of all pairs of a station and a shift on a site-day."""
        touched = self._touched(change)
        known = self._holes.get(group)
        if known is None:
            stations, shifts = self.book.stations_at[group[0]], self.book.shifts_at[group]
            known = self._holes[group] = self._pairs(group, NO_CHANGE, stations, shifts)
        day = group[1]
        if day not in touched.days:
            return known
        key = (group, touched.days[day])
        found = self._changed.get(key)
        if found is None:
            if len(self._changed) >= KEPT:
                self._changed.clear()
            here = {station for station, on in touched.stations if on == day}
            people = {person for person, on in touched.people if on == day}
            found = [h for h in known if h.station not in here and h.shift[0] not in people]
            found += self._beside(group, change, here, people)
            self._changed[key] = found
        return found

    def _beside(
        self, group: Group, change: Change, stations: set[int], people: set[int]
    ) -> list[Hole]:
        """Those of the pairs with one of some stations or of some technicians."""
        here, there = self.book.stations_at[group[0]], self.book.shifts_at[group]
        return [
            *self._pairs(group, change, [s for s in here if s in stations], there),
            *self._pairs(
                group, change,
                [s for s in here if s not in stations], [key for key in there if key[0] in people],
            ),
        ]  # fmt: skip

    def _pairs(
        self, group: Group, change: Change, stations: list[int], shifts: list[ShiftKey]
    ) -> list[Hole]:
        if not stations or not shifts:
            return []
        open_at = [(s, self.station(group, s, change)) for s in stations]
        open_at = [(s, spans) for s, spans in open_at if spans]
        return [
            Hole(low, high, s, key)
            for key in shifts
            if (free := self.shift(key, group[1], change))
            for s, spans in open_at
            for low, high in common(spans, free)
            if high - low >= self.shortest
        ]

    def longest(self, group: Group, features: Words, skills: Words) -> int:
        """The longest free time, in minutes, of a pair that has what is asked for."""
        key = (group, features, skills)
        if key not in self._longest:
            self._longest[key] = max(
                (
                    hole.high - hole.low
                    for hole in self.at(group, NO_CHANGE)
                    if features <= self.features[hole.station]
                    and skills <= self.skills[hole.shift[0]]
                ),
                default=0,
            )
        return self._longest[key]

    def _touched(self, change: Change) -> Touched:
        if self._last[0] is not change:
            index, booked = self.book.index, self.book.booked
            gone = [booked[name] for name in change.gone if name in booked]
            stations = {(index.station[b.station], b.start // DAY) for b in gone}
            people = {(index.technician[b.technician], b.start // DAY) for b in gone}
            stations |= {(i.thing.station, i.group[1]) for i in change.added}
            people |= {(i.thing.technician, i.group[1]) for i in change.added}
            days: dict[int, Part] = {
                day: (
                    frozenset(b.request for b in gone if b.start // DAY == day),
                    tuple(item for item in change.added if item.group[1] == day),
                )
                for _, day in stations
            }
            self._last = (change, Touched(stations, people, days))
        return self._last[1]


def common(a: list[Span], b: list[Span]) -> list[Span]:
    """The minutes in both, each list sorted and disjoint; spans that touch are still two."""
    both: list[Span] = []
    i = k = 0
    while i < len(a) and k < len(b):
        low, high = max(a[i][0], b[k][0]), min(a[i][1], b[k][1])
        if low < high:
            both.append((low, high))
        if a[i][1] <= b[k][1]:
            i += 1
        else:
            k += 1
    return both


def less(spans: list[Span], busy: list[Span]) -> list[Span]:
    """What ``busy`` leaves of ``spans``; both sorted, the spans disjoint."""
    left: list[Span] = []
    for low, high in spans:
        at = low
        for start, end in busy:
            if start >= high:
                break
            if start > at:
                left.append((at, start))
            at = max(at, end)
        if at < high:
            left.append((at, high))
    return left


def _with(change: Change, *, station: int = -2, person: int = -2) -> list[Item]:
    """What a change adds at a station, or with a technician."""
    return [i for i in change.added if station == i.thing.station or person == i.thing.technician]
