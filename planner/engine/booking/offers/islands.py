"""Site-days whose lateness touches, and whether one more booking there keeps every promise."""

from __future__ import annotations

from bisect import bisect_left
from collections import OrderedDict, defaultdict
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.offers.book import (
    NO_CHANGE,
    Book,
    Change,
    Group,
    Item,
    ShiftKey,
    after,
)
from planner.engine.booking.offers.ripple import NEVER, insert, run_rows
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.sessions.things import sort_key
from planner.engine.units import DAY

CARRY = 240
"""Minutes of idle time between two site-days after which the first no longer delays the second."""
MARGIN = 1.5
"""Standard errors by which an estimate must stay below a promise (as where plans are mended)."""
KEPT_BYTES = 1 << 28
"""What the ends of things that were run already may take before the oldest are dropped."""

Ints = NDArray[np.int32]
Draws = NDArray[np.float32]
_Relevant = tuple[frozenset[str], tuple[Item, ...]]


@dataclass(slots=True)
class Island:
    """The things of some site-days in the order of the day, run once.

    ``rows``, ``ends`` and ``counts`` as in `run_rows`; ``allow`` holds the draws that may break
    each promise. ``at_station``, ``with_person`` list rows by station and by technician;
    ``last_session`` by (station, day) and ``last_thing`` by shift give the rows that the ends are
    promised for, ``decided`` those of the two in which a run has placed something already.
    """

    items: list[Item]
    base: int
    keys: list[tuple[int, int, int, str, int]]
    rows: Ints
    ends: Draws
    counts: Ints
    allow: Ints
    at_station: dict[int, list[int]]
    with_person: dict[int, list[int]]
    last_session: dict[Group, int]
    last_thing: dict[ShiftKey, int]
    decided: set[tuple[str, Group]]


@dataclass(slots=True)
class Islands:
    """All islands of a book, made when first asked for.

    ``draws`` runs of the day judge every promise, with the same draws for a booking wherever it
    stands; ``seed`` chooses them.
    """

    book: Book
    draws: int
    seed: int
    pool: Draws = field(init=False)
    waits: int = field(init=False)
    lates: int = field(init=False)
    _root: dict[Group, Group] = field(init=False)
    _members: dict[Group, list[Group]] = field(init=False)
    _kept: OrderedDict[tuple[Group, _Relevant], Island] = field(init=False)
    _bytes: int = 0
    _work: Draws = field(init=False)

    def __post_init__(self) -> None:
        policy = self.book.network.policy
        self.pool = draw_pool(self.book.network, draws=self.draws, seed=self.seed)
        self.waits = allowed(policy.wait_risk, self.draws)
        self.lates = allowed(policy.overtime_risk, self.draws)
        self._kept = OrderedDict()
        self._work = np.empty((0, self.draws), dtype=np.float32)
        self._root = {}
        for one, other in _neighbours(self.book):
            self._root[self._find(one)] = self._find(other)
        self._members = defaultdict(list)
        for group in set(self.book.items) | set(self.book.openings):
            self._members[self._find(group)].append(group)

    def _find(self, group: Group) -> Group:
        while (above := self._root.setdefault(group, group)) != group:
            group = above
        return group

    def at(self, group: Group, change: Change) -> Island:
        """The island of a site-day under a change of the plan."""
        root = self._find(group)
        members = self._members[root]
        gone = frozenset(
            name
            for name in change.gone
            if name in self.book.booked and self._group_of(name) in members
        )
        added = tuple(item for item in change.added if item.group in members)
        key = (root, (gone, added))
        found = self._kept.get(key)
        if found is None:
            items = [item for one in members for item in after(self.book.items[one], change)]
            before = self.at(group, NO_CHANGE) if gone or added else None
            found = self._kept[key] = self._run([*items, *added], before)
            self._bytes += found.ends.nbytes
            while self._bytes > KEPT_BYTES and len(self._kept) > 1:
                self._bytes -= self._kept.popitem(last=False)[1].ends.nbytes
        else:
            self._kept.move_to_end(key)
        return found

    def run_ahead(self) -> None:
        """Run every island as long as half of what may be kept is free."""
        for root in sorted(self._members):
            if self._bytes < KEPT_BYTES // 2:
                self.at(root, NO_CHANGE)

    def _group_of(self, request: str) -> Group:
        booking = self.book.booked[request]
        return self.book.index.site[booking.site], booking.start // DAY

    def _run(self, items: list[Item], before: Island | None) -> Island:
        items.sort(key=lambda item: sort_key(item.thing))
        count = len(items)
        base = min((item.group[1] for item in items), default=0) * DAY
        at_station: dict[int, list[int]] = defaultdict(list)
        with_person: dict[int, list[int]] = defaultdict(list)
        last_session: dict[Group, int] = {}
        last_thing: dict[ShiftKey, int] = {}
        table = []
        for k, item in enumerate(items):
            thing = item.thing
            links = (_last(at_station, thing.station), _last(with_person, thing.technician))
            table.append(self._row(item, base, links))
            if thing.station >= 0:
                at_station[thing.station].append(k)
                if thing.key:
                    last_session[thing.station, item.group[1]] = k
            if thing.technician >= 0:
                with_person[thing.technician].append(k)
                last_thing[thing.technician, item.shift] = k
        rows = np.array(table, dtype=np.int32).reshape(count, 8)
        for (_, day), k in last_session.items():
            rows[k, 6] = self.book.closes((items[k].group[0], day)) - base
        people = self.book.network.technicians
        for (person, shift), k in last_thing.items():
            rows[k, 7] = people[person].shifts[shift].end - base
        ends = np.empty((count, self.draws), dtype=np.float32)
        counts = np.zeros((count, 3), dtype=np.int32)
        policy = self.book.network.policy
        same = 0 if before is None else _same(before, rows, items)
        if before is not None:
            ends[:same], counts[:same] = before.ends[:same], before.counts[:same]
        run_rows(rows, self.pool, policy.wait_minutes, policy.overtime_minutes, same, ends, counts)
        island = Island(
            items, base, [sort_key(item.thing) for item in items], rows, ends, counts,
            np.full((count, 3), self.draws, dtype=np.int32),
            at_station, with_person, last_session, last_thing, _decided(items),
        )  # fmt: skip
        self._allow(island)
        return island

    def _row(self, item: Item, base: int, links: tuple[int, int]) -> tuple[int, ...]:
        thing = item.thing
        profile = self.book.index.profile[thing.profile] if thing.key else -1
        own = thing.own - base
        return (own, thing.minutes, *links, profile, item.number, NEVER, NEVER)

    def _allow(self, island: Island) -> None:
        """What is kept must stay kept, and what is broken already must not get worse."""
        for k, item in enumerate(island.items):
            if item.thing.key and not item.fixed:
                island.allow[k, 0] = max(self.waits, island.counts[k, 0])
        for key, k in island.last_session.items():
            if ("station", key) in island.decided:
                island.allow[k, 1] = max(self.lates, island.counts[k, 1])
        for key, k in island.last_thing.items():
            if ("shift", key) in island.decided:
                island.allow[k, 2] = max(self.lates, island.counts[k, 2])

    def fits(self, item: Item, change: Change) -> float | None:
        """P(wait) of one more booking, or None where it or another promise would be broken.

        The booking must fit by planned times already.
        """
        island = self.at(item.group, change)
        thing = item.thing
        place = bisect_left(island.keys, sort_key(thing))
        before_s, next_s = _around(island.at_station.get(thing.station, []), place)
        before_t, next_t = _around(island.with_person.get(thing.technician, []), place)
        row = np.array(self._row(item, island.base, (before_s, before_t)), dtype=np.int32)
        station, shift = (thing.station, item.group[1]), (thing.technician, item.shift)
        if island.last_session.get(station, -1) < place:
            row[6] = self.book.closes(item.group) - island.base
        if island.last_thing.get(shift, -1) < place:
            row[7] = self.book.network.technicians[shift[0]].shifts[shift[1]].end - island.base
        allow = self._stricter(island, station, shift, place)
        if allow is None:
            return None
        policy = self.book.network.policy
        mine = np.array([self.waits, self.lates, self.lates], dtype=np.int32)
        waits = insert(
            island.rows, island.ends, self.pool, policy.wait_minutes, policy.overtime_minutes,
            allow, row, place, next_s, next_t, mine, self._scratch(len(island.items) + 1),
        )  # fmt: skip
        return None if waits < 0 else waits / self.draws

    def _scratch(self, count: int) -> Draws:
        if len(self._work) < count:
            self._work = np.empty((count, self.draws), dtype=np.float32)
        return self._work[:count]

    def _stricter(self, island: Island, station: Group, shift: ShiftKey, place: int) -> Ints | None:
        """What may be broken once a run places something at this station and in this shift.

        Ends on days and shifts with nothing but fixed appointments are excepted from the
        promise until then. None where such an end is too late already.
        """
        strict: list[tuple[int, int]] = []
        session, last = island.last_session.get(station, -1), island.last_thing.get(shift, -1)
        if ("station", station) not in island.decided:
            # What was last and now comes before the new booking is last no more.
            strict += [(session, 1)] if session >= place else []
            for key, k in island.last_thing.items():
                if key != shift and ("care", key) in island.decided:
                    strict += [(k, 2)] if _cares(island, key, station) else []
        if ("shift", shift) not in island.decided and last >= place:
            strict.append((last, 2))
        if not strict:
            return island.allow
        allow = island.allow.copy()
        for k, column in strict:
            if island.counts[k, column] > self.lates:
                return None
            allow[k, column] = min(allow[k, column], self.lates)
        return allow


def allowed(risk: float, draws: int) -> int:
    """How many draws may break a promised risk so that it counts as kept."""
    if risk >= 1:
        return draws
    error = (risk * (1 - risk) / draws) ** 0.5
    return int(max(0.0, risk - MARGIN * error) * draws)


def _neighbours(book: Book) -> list[tuple[Group, Group]]:
    """Pairs of site-days so close for a technician, or for a station, that lateness carries."""
    pairs = []
    for person in book.network.technicians:
        shifts = sorted(person.shifts, key=lambda item: item.start)
        for shift in shifts:
            site = book.index.site[shift.site]
            days = range(shift.start // DAY, (shift.end - 1) // DAY + 1)
            pairs += [((site, days[0]), (site, day)) for day in days[1:]]
        for one, other in pairwise(shifts):
            if other.start - one.end < CARRY:
                ends = (book.index.site[one.site], (one.end - 1) // DAY)
                pairs.append((ends, (book.index.site[other.site], other.start // DAY)))
    for (site, day), spans in book.openings.items():
        following = book.openings.get((site, day + 1))
        if following and following[0][0] - max(end for _, end in spans) < CARRY:
            pairs.append(((site, day), (site, day + 1)))
    return pairs


def _decided(items: list[Item]) -> set[tuple[str, Group]]:
    """Station-days and shifts on which a run has placed something, and shifts with care alone."""
    found: set[tuple[str, Group]] = set()
    booked = {(i.thing.technician, i.shift) for i in items if i.thing.key}
    for item in items:
        if item.thing.key and not item.fixed:
            found.add(("station", (item.thing.station, item.group[1])))
            found.add(("shift", (item.thing.technician, item.shift)))
    for item in items:
        thing, shift = item.thing, (item.thing.technician, item.shift)
        if not thing.key and thing.station >= 0 <= thing.technician and shift not in booked:
            found.add(("care", shift))
            if ("station", (thing.station, item.group[1])) in found:
                found.add(("shift", shift))
    return found


def _cares(island: Island, shift: ShiftKey, station: Group) -> bool:
    """Whether somebody looks after a station's scanner in a shift."""
    return any(
        item.thing.station == station[0]
        and item.group[1] == station[1]
        and (item.thing.technician, item.shift) == shift
        for item in island.items
    )


def _same(before: Island, rows: Ints, items: list[Item]) -> int:
    """How many of the first things are the same in both, so that they end the same."""
    count = min(len(before.items), len(items))
    if not count or before.base != min(item.group[1] for item in items) * DAY:
        return 0
    differ = (before.rows[:count] != rows[:count]).any(axis=1)
    return int(differ.argmax()) if differ.any() else count


def _last(rows: dict[int, list[int]], key: int) -> int:
    return rows[key][-1] if key >= 0 and rows.get(key) else -1


def _around(rows: list[int], place: int) -> tuple[int, int]:
    """The rows before and after a place, -1 where there is none."""
    at = bisect_left(rows, place)
    return (rows[at - 1] if at else -1), (rows[at] if at < len(rows) else -1)
