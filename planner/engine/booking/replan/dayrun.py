"""A date's draws kept thing by thing, so that one thing more is judged by what it reaches alone.

Lateness dies out at the next gap: of a few hundred things a new one reaches a handful.
"""

from __future__ import annotations

from bisect import bisect
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.replan.judge import End, Hours, Judge, Risks
from planner.engine.sessions.things import Thing, sort_key
from planner.engine.units import DAY

Vector = NDArray[np.float32]


@dataclass(slots=True)
class DayRun:
    """The things of one date of some site-days, in order, with all their ends.

    ``ends`` has shape (things, draws), minutes past ``base`` (that date's midnight in network
    minutes).
    """

    judge: Judge
    hours: Hours
    base: int
    things: list[Thing]
    keys: list[tuple[int, int, int, str, int]] = field(init=False)
    ends: Vector = field(init=False)
    _station: dict[int, list[int]] = field(init=False)
    _person: dict[int, list[int]] = field(init=False)

    def __post_init__(self) -> None:
        self.things = sorted(self.things, key=sort_key)
        self.keys = [sort_key(item) for item in self.things]
        self.ends = np.empty((len(self.things), self.judge.pool.shape[2]), dtype=np.float32)
        self._station, self._person = {}, {}
        for k, item in enumerate(self.things):
            begin = self._begin(item, self._last(self._station, item.station),
                                self._last(self._person, item.technician))  # fmt: skip
            self.ends[k] = begin + self._length(item)
            if item.station >= 0:
                self._station.setdefault(item.station, []).append(k)
            if item.technician >= 0:
                self._person.setdefault(item.technician, []).append(k)

    def _last(self, places: dict[int, list[int]], thing: int) -> Vector | None:
        mine = places.get(thing)
        return self.ends[mine[-1]] if mine else None

    def _begin(self, item: Thing, *before: Vector | None) -> Vector:
        own = np.float32(item.own - self.base)
        begin = np.full(self.ends.shape[1], own, dtype=np.float32)
        for end in before:
            if end is not None:
                np.maximum(begin, end, out=begin)
        return begin

    def _length(self, item: Thing) -> Vector | np.float32:
        if not item.key:
            return np.float32(item.minutes)
        return self.judge.lengths(item.key, item.profile)

    def with_one_more(
        self, new: Thing, enough: Callable[[str, float], bool] = lambda request, risk: False
    ) -> Risks:
        """The risks of a new thing and of everything that it reaches.

        Where ``enough`` says so of somebody's risk of waiting, the rest is not asked for.
        """
        at = bisect(self.keys, sort_key(new))
        stations: dict[int, Vector] = {}
        people: dict[int, Vector] = {}
        changed: dict[int, Vector] = {}
        found = Risks()
        begin = self._begin(new, self._before(self._station, new.station, at, stations),
                            self._before(self._person, new.technician, at, people))  # fmt: skip
        end: Vector = begin + self._length(new)
        if self._note(found, new, begin, enough):
            return found
        _set(stations, new.station, end)
        _set(people, new.technician, end)
        touched = {("station", new.station), ("person", new.technician)}
        for k in range(at, len(self.things)):
            if not stations and not people:
                break
            item = self.things[k]
            if item.station not in stations and item.technician not in people:
                continue
            begin = self._begin(item, self._before(self._station, item.station, k, stations),
                                self._before(self._person, item.technician, k, people))  # fmt: skip
            later: Vector = begin + self._length(item)
            if np.array_equal(later, self.ends[k]):
                stations.pop(item.station, None)
                people.pop(item.technician, None)
                continue
            if self._note(found, item, begin, enough):
                return found
            changed[k] = later
            _set(stations, item.station, later)
            _set(people, item.technician, later)
            touched |= {("station", item.station), ("person", item.technician)}
        self._note_ends(found, new, end, at, changed, touched)
        return found

    def _before(
        self, places: dict[int, list[int]], thing: int, at: int, changed: dict[int, Vector]
    ) -> Vector | None:
        """When a station or technician is ready for the thing that stands at ``at``."""
        if thing < 0:
            return None
        if thing in changed:
            return changed[thing]
        mine = places.get(thing, [])
        k = bisect(mine, at - 1) - 1
        return self.ends[mine[k]] if k >= 0 else None

    def _note(
        self, found: Risks, item: Thing, begin: Vector, enough: Callable[[str, float], bool]
    ) -> bool:
        """Note somebody's risk of waiting; whether it is enough."""
        if not item.key:
            return False
        limit = item.own - self.base + self.judge.network.policy.wait_minutes
        risk = found.waits[item.key] = np.count_nonzero(begin > limit) / len(begin)
        return enough(item.key, risk)

    def _note_ends(
        self, found: Risks, new: Thing, end: Vector, at: int, changed: dict[int, Vector],
        touched: Iterable[tuple[str, int]],
    ) -> None:  # fmt: skip
        """The ends of the station-days and shifts that the new thing reaches."""
        for kind, place in touched:
            if place < 0:
                continue
            mine = (self._station if kind == "station" else self._person).get(place, [])
            is_new = place == (new.station if kind == "station" else new.technician)
            row = [(self.keys[k], self.things[k], changed.get(k, self.ends[k])) for k in mine]
            if is_new:
                row.append((sort_key(new), new, end))
                row.sort(key=lambda entry: entry[0])
            last: dict[End, Vector] = {}
            for _, item, vector in row:
                key = self._end_of(kind, item)
                if key is not None:
                    last[key] = vector
                    if item.key:
                        found.last.setdefault(key, []).append(item.key)
            for key, vector in last.items():
                late = key[3] - self.base + self.judge.network.policy.overtime_minutes
                found.ends[key] = float((vector > late).mean())

    def _end_of(self, kind: str, item: Thing) -> End | None:
        """The station-day of a booking, or the shift of a thing."""
        if kind == "station":
            date = item.order // DAY
            closes = self.hours.closes(item.station, date) if item.key else None
            return None if closes is None else ("station", item.station, date, closes)
        shift = self.hours.shift(item.technician, item.order)
        return None if shift is None else ("shift", item.technician, *shift)


def _set(places: dict[int, Vector], thing: int, end: Vector) -> None:
    if thing >= 0:
        places[thing] = end
