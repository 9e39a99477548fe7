"""Site-days whose lateness touches, and whether one more booking there keeps every promise."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections import OrderedDict, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from planner.engine.booking.offers.book import (
    NO_CHANGE,
    Book,
    Change,
    Group,
    Item,
    ShiftKey,
)
from planner.engine.booking.offers.holes import Hole
from planner.engine.booking.offers.island import Island, Judge, Key, changed_island, run_island
from planner.engine.booking.offers.ripple import Bools, Draws, Ints, insert
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.sessions.things import sort_key
from planner.engine.units import DAY

CARRY = 240
"""Minutes of idle time between two site-days after which the first no longer delays the second."""
MARGIN = 1.5
"""Standard errors by which an estimate must stay below a promise (as where plans are mended)."""
CLOSE = 0.01
"""Minutes that are allowed for rounding where a start is ruled out before it is run."""
KEPT_BYTES = 1 << 28
"""What the ends of things that were run already may take before the oldest are dropped."""

CHANGES = 8
"""Changed islands that are kept: one question comes back to a few."""

NO_ROOM = np.empty((0, 0), dtype=np.float32)

_Changed = tuple[Group, frozenset[str], tuple[Item, ...]]


@dataclass(slots=True)
class Islands:
    """All islands of a book, made when first asked for.

    ``draws`` runs of the day judge every promise, with the same draws for a booking wherever it
    stands; ``seed`` chooses them.
    """

    book: Book
    draws: int
    seed: int
    judge: Judge = field(init=False)
    _root: dict[Group, Group] = field(init=False)
    _members: dict[Group, list[Group]] = field(init=False)
    _kept: OrderedDict[Group, Island] = field(init=False)
    _after_change: OrderedDict[_Changed, Island] = field(init=False)
    _bytes: int = 0
    _work: Draws = field(init=False)
    _changed: Bools = field(init=False)

    def __post_init__(self) -> None:
        policy = self.book.network.policy
        self.judge = Judge(
            self.book,
            draw_pool(self.book.network, draws=self.draws, seed=self.seed),
            allowed(policy.wait_risk, self.draws),
            allowed(policy.overtime_risk, self.draws),
        )
        self._kept, self._after_change = OrderedDict(), OrderedDict()
        self._work = np.empty((0, self.draws), dtype=np.float32)
        self._changed = np.empty(0, dtype=np.bool_)
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
        gone = frozenset(name for name in change.gone if self._is_at(name, root))
        added = tuple(item for item in change.added if self._find(item.group) == root)
        if gone or added:
            return self._after(root, gone, added)
        found = self._kept.get(root)
        if found is not None:
            self._kept.move_to_end(root)
            return found
        members = self._members[root]
        items = [item for one in members for item in self.book.items[one]]
        found = run_island(self.judge, min(day for _, day in members) * DAY, items)
        self._kept[root] = found
        self._bytes += found.ends.nbytes
        while self._bytes > KEPT_BYTES and len(self._kept) > 1:
            self._bytes -= self._kept.popitem(last=False)[1].ends.nbytes
        return found

    def _after(self, root: Group, gone: frozenset[str], added: tuple[Item, ...]) -> Island:
        """An island under what of a change is there; the room of the oldest is used again."""
        key = (root, gone, added)
        found = self._after_change.get(key)
        if found is not None:
            self._after_change.move_to_end(key)
            return found
        whole = self.at(root, NO_CHANGE)
        rows = [whole.booked[name] for name in sorted(gone)]
        need, room = len(whole.items) + len(added), NO_ROOM
        if len(self._after_change) >= CHANGES:
            room = self._after_change.popitem(last=False)[1].extra
        if len(room) < need:
            room = np.empty((need + need // 2, self.draws), dtype=np.float32)
        found = changed_island(self.judge, whole, rows, list(added), room)
        self._after_change[key] = found
        return found

    def run_ahead(self) -> None:
        """Run every island as long as half of what may be kept is free."""
        for root in sorted(self._members):
            if self._bytes < KEPT_BYTES // 2:
                self.at(root, NO_CHANGE)

    def promised(self, group: Group, change: Change) -> Callable[[Hole], int]:
        """The minute before which nobody can be told to come in a free time of a site-day.

        Its own waiting promise would be broken, whatever its draws, by what its station and its
        technician have to do before. Rows before all that changes run as they did, so that days
        are not run again for them.
        """
        whole, first = self.at(group, NO_CHANGE), self._first_change(group, change)
        ahead = self.book.network.policy.wait_minutes + CLOSE

        def soonest(hole: Hole) -> int:
            island = whole if hole.low <= first else self.at(group, change)
            ready = island.soonest_after(hole.station, hole.shift[0], hole.low, self.judge.waits)
            return math.ceil(max(-1.0, ready + island.base - ahead))

        return soonest

    def _first_change(self, group: Group, change: Change) -> float:
        """When the first thing begins that a change takes out of an island, or puts in."""
        root, booked = self._find(group), self.book.booked
        gone = [booked[name].start for name in change.gone if self._is_at(name, root)]
        added = [i.thing.order for i in change.added if self._find(i.group) == root]
        return min([*gone, *added], default=math.inf)

    def _is_at(self, request: str, root: Group) -> bool:
        booking = self.book.booked.get(request)
        return booking is not None and root == self._find(
            (self.book.index.site[booking.site], booking.start // DAY)
        )

    def fits(self, item: Item, change: Change) -> float | None:
        """P(wait) of one more booking, or None where it or another promise would be broken.

        The booking must fit by planned times already.
        """
        island = self.at(item.group, change)
        thing, key = item.thing, sort_key(item.thing)
        before_s, next_s = island.around(island.at_station.get(thing.station, []), key)
        before_t, next_t = island.around(island.with_person.get(thing.technician, []), key)
        profile = self.book.index.profile[thing.profile]
        row = np.array(island.row(item, (before_s, before_t), profile), dtype=np.int32)
        station, shift = (thing.station, item.group[1]), (thing.technician, item.shift)
        if not _comes_after(island, island.last_session.get(station, -1), key):
            row[6] = self.judge.closes(item) - island.base
        if not _comes_after(island, island.last_thing.get(shift, -1), key):
            row[7] = self.judge.shift_ends(shift) - island.base
        allow = self._stricter(island, station, shift, key)
        if allow is None:
            return None
        policy, judge = self.book.network.policy, self.judge
        mine = np.array([judge.waits, judge.lates, judge.lates], dtype=np.int32)
        self._make_room(len(island.items) + 1)
        waits = insert(
            island.rows, island.order, island.ends, island.extra, island.slot, judge.pool,
            policy.wait_minutes, policy.overtime_minutes, allow, row,
            bisect_left(island.places, key), next_s, next_t, mine, self._work, self._changed,
        )  # fmt: skip
        return None if waits < 0 else waits / self.draws

    def _make_room(self, count: int) -> None:
        if len(self._work) < count:
            self._work = np.empty((count, self.draws), dtype=np.float32)
            self._changed = np.empty(count, dtype=np.bool_)

    def _stricter(self, island: Island, station: Group, shift: ShiftKey, place: Key) -> Ints | None:
        """What may be broken once a run places something at this station and in this shift.

        Ends on days and shifts with nothing but fixed appointments are excepted from the
        promise until then. None where such an end is too late already.
        """
        strict: list[tuple[int, int]] = []
        session, last = island.last_session.get(station, -1), island.last_thing.get(shift, -1)
        if station not in island.decided.stations:
            # What was last and now comes before the new booking is last no more.
            strict += [(session, 1)] if _comes_after(island, session, place) else []
            for key, k in island.last_thing.items():
                if key != shift and key in island.decided.cared:
                    strict += [(k, 2)] if _cares(island, key, station) else []
        if shift not in island.decided.shifts and _comes_after(island, last, place):
            strict.append((last, 2))
        if not strict:
            return island.allow
        allow = island.allow.copy()
        for k, column in strict:
            if island.counts[k, column] > self.judge.lates:
                return None
            allow[k, column] = min(allow[k, column], self.judge.lates)
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


def _cares(island: Island, shift: ShiftKey, station: Group) -> bool:
    """Whether somebody looks after a station's scanner in a shift."""
    things = (island.items[k] for k in island.at_station.get(station[0], ()))
    return any(
        item.group[1] == station[1] and (item.thing.technician, item.shift) == shift
        for item in things
    )


def _comes_after(island: Island, row: int, place: Key) -> bool:
    """Whether a row (-1: none) comes after a place in the order of the day."""
    return row >= 0 and island.keys[row] >= place
