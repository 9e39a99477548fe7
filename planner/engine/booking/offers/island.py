"""The things of some site-days whose lateness touches, run once, and run again after a change."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace

import numpy as np

from planner.engine.booking.offers.book import Book, Group, Item, ShiftKey
from planner.engine.booking.offers.ripple import NEVER, Bools, Draws, Ints, run_again, run_rows
from planner.engine.sessions.things import sort_key

Key = tuple[int, int, int, str, int]


@dataclass(frozen=True, slots=True)
class Judge:
    """What days are run and judged by.

    ``pool`` holds the draws of session lengths; ``waits`` and ``lates`` say in how many draws a
    promise may be broken.
    """

    book: Book
    pool: Draws
    waits: int
    lates: int

    @property
    def draws(self) -> int:
        """Runs of each day."""
        return int(self.pool.shape[2])

    def closes(self, item: Item) -> int:
        """When the item's site closes on its day."""
        return self.book.closes(item.group)

    def shift_ends(self, shift: ShiftKey) -> int:
        """When a shift ends."""
        return self.book.network.technicians[shift[0]].shifts[shift[1]].end


@dataclass(slots=True)
class Decided:
    """Where a run has placed something: ``stations`` by (station, day), and ``shifts``.

    ``cared`` has the shifts with care and without a booking.
    """

    stations: set[Group]
    shifts: set[ShiftKey]
    cared: set[ShiftKey]


@dataclass(slots=True)
class Island:
    """A table of things that were run, in minutes since ``base``.

    ``items``, ``keys`` (what they are ordered by), ``rows`` and ``counts`` (as in `run_rows`) have
    one entry a row; ``order`` lists the rows that happen, in order, and ``places`` their keys. A
    row's ends are ``extra[slot[row]]`` where its slot is not -1, else ``ends[row]``. ``bound``
    marks the promises that a run must keep, ``allow`` holds the draws that may break each.
    ``at_station`` and ``with_person`` list rows by station and by technician, ``booked`` has the
    row of each request; ``last_session`` by (station, day) and ``last_thing`` by shift give the
    rows that the ends are promised for. ``late`` by row, ``fresh`` by row with a slot, and
    ``soonest`` by station, technician and minute keep what `soonest_after` found.
    """

    base: int
    items: list[Item]
    keys: list[Key]
    rows: Ints
    counts: Ints
    bound: Bools
    allow: Ints
    order: Ints
    places: list[Key]
    ends: Draws
    extra: Draws
    slot: Ints
    at_station: dict[int, list[int]]
    with_person: dict[int, list[int]]
    booked: dict[str, int]
    last_session: dict[Group, int]
    last_thing: dict[ShiftKey, int]
    decided: Decided
    late: dict[int, float] = field(default_factory=dict)
    fresh: dict[int, float] = field(default_factory=dict)
    soonest: dict[tuple[int, int, int], float] = field(default_factory=dict)

    def soonest_after(self, station: int, person: int, minute: int, most: int) -> float:
        """When a station and a technician who are free from a minute on are ready for certain.

        Later than that in at most ``most`` draws each, in minutes since ``base``. Later in the free
        time they are ready no sooner.
        """
        key = (station, person, minute)
        found = self.soonest.get(key)
        if found is None:
            ready = [self._ready(rows.get(thing, []), minute, most) for rows, thing in (
                (self.at_station, station), (self.with_person, person))]  # fmt: skip
            found = self.soonest[key] = max(ready)
        return found

    def _ready(self, rows: list[int], minute: int, most: int) -> float:
        at = bisect_left(rows, minute, key=lambda k: self.keys[k][0])
        if not at or most >= self.ends.shape[1]:
            return -np.inf
        row = rows[at - 1]
        place = int(self.slot[row])
        known = self.late if place < 0 else self.fresh
        if row not in known:
            ends = self.ends[row] if place < 0 else self.extra[place]
            known[row] = float(np.partition(ends, len(ends) - 1 - most)[len(ends) - 1 - most])
        return known[row]

    def row(self, item: Item, before: tuple[int, int], profile: int) -> tuple[int, ...]:
        """A booking, or a thing with ``profile`` -1, as a row without limits."""
        thing = item.thing
        return (thing.own - self.base, thing.minutes, *before, profile, item.number, NEVER, NEVER)

    def around(self, rows: list[int], key: Key) -> tuple[int, int]:
        """Of rows in order, those before and after a key; -1 where there is none."""
        at = bisect_left(rows, key, key=self.keys.__getitem__)
        return (rows[at - 1] if at else -1), (rows[at] if at < len(rows) else -1)


def run_island(judge: Judge, base: int, items: list[Item]) -> Island:
    """Run things of certain site-days."""
    items = sorted(items, key=lambda item: sort_key(item.thing))
    keys = [sort_key(item.thing) for item in items]
    count = len(items)
    nothing = np.empty((0, judge.draws), dtype=np.float32)
    made = Island(
        base, items, keys, np.empty((count, 8), dtype=np.int32),
        np.zeros((count, 3), dtype=np.int32), np.zeros((count, 3), dtype=np.bool_),
        np.empty((0, 3), dtype=np.int32), np.arange(count, dtype=np.int32), keys,
        np.empty((count, judge.draws), dtype=np.float32), nothing,
        np.full(count, -1, dtype=np.int32), {}, {}, {}, {}, {}, Decided(set(), set(), set()),
    )  # fmt: skip
    profiles = judge.book.index.profile
    table = []
    for k, item in enumerate(items):
        thing = item.thing
        links = (_last(made.at_station, thing.station), _last(made.with_person, thing.technician))
        table.append(made.row(item, links, profiles[thing.profile] if thing.key else -1))
        if thing.station >= 0:
            made.at_station.setdefault(thing.station, []).append(k)
        if thing.technician >= 0:
            made.with_person.setdefault(thing.technician, []).append(k)
        if thing.key:
            made.booked[thing.key] = k
            made.bound[k, 0] = not item.fixed
    made.rows[:] = np.array(table, dtype=np.int32).reshape(count, 8)
    _decide(judge, made, *_touched(items))
    policy = judge.book.network.policy
    run_rows(
        made.rows, judge.pool, policy.wait_minutes, policy.overtime_minutes, made.ends, made.counts
    )
    made.allow = _allow(judge, made)
    return made


def changed_island(
    judge: Judge, old: Island, gone: list[int], added: list[Item], room: Draws
) -> Island:
    """An island that was run, with some rows, all bookings, taken out and some bookings put in.

    Only what that reaches is run again. The new ends are written to ``room``, which has at least as
    many rows as there are in all, and stay there.
    """
    more, before = len(added), len(old.items)
    made = replace(
        old,
        items=[*old.items, *added],
        keys=[*old.keys, *(sort_key(item.thing) for item in added)],
        rows=np.concatenate([old.rows, np.zeros((more, 8), dtype=np.int32)]),
        counts=np.concatenate([old.counts, np.zeros((more, 3), dtype=np.int32)]),
        bound=np.concatenate(
            [old.bound, np.ones((more, 3), dtype=np.bool_) & [True, False, False]]
        ),
        places=[*old.places],
        at_station={**old.at_station},
        with_person={**old.with_person},
        booked={**old.booked},
        last_session={**old.last_session},
        last_thing={**old.last_thing},
        decided=Decided({*old.decided.stations}, {*old.decided.shifts}, {*old.decided.cared}),
        fresh={},
        soonest={},
    )
    dirty = np.zeros(before + more, dtype=np.bool_)
    order = old.order.tolist()
    for k in gone:
        at = bisect_left(made.places, made.keys[k])
        del made.places[at], order[at]
        del made.booked[made.items[k].thing.key]
        _unlink(made, k, dirty)
    for k, item in enumerate(added, before):
        at = bisect_left(made.places, made.keys[k])
        made.places.insert(at, made.keys[k])
        order.insert(at, k)
        made.booked[item.thing.key] = k
        profile = judge.book.index.profile[item.thing.profile]
        made.rows[k] = made.row(item, (-1, -1), profile)
        _link(made, k, dirty)
    made.order = np.array(order, dtype=np.int32)
    touched = [*(made.items[k] for k in gone), *added]
    for k in _decide(judge, made, *_touched(touched)):
        dirty[k] = True
    changes = dirty.nonzero()[0].tolist()
    first = min((bisect_left(made.places, made.keys[k]) for k in changes), default=len(order))
    policy = judge.book.network.policy
    changed = np.zeros(before + more, dtype=np.bool_)
    run_again(
        made.rows, made.order, first, dirty, old.ends, judge.pool, policy.wait_minutes,
        policy.overtime_minutes, made.counts, room, changed,
    )  # fmt: skip
    made.extra = room
    made.slot = np.where(changed, np.arange(before + more), -1).astype(np.int32)
    made.allow = _allow(judge, made)
    return made


def _touched(items: list[Item]) -> tuple[set[Group], set[ShiftKey]]:
    """The station-days and the shifts of items."""
    stations = {(i.thing.station, i.group[1]) for i in items if i.thing.station >= 0}
    return stations, {(i.thing.technician, i.shift) for i in items if i.thing.technician >= 0}


def _unlink(island: Island, k: int, dirty: Bools) -> None:
    """Take a row out of its station's and its technician's things."""
    thing = island.items[k].thing
    for column, (rows_of, of) in enumerate(
        ((island.at_station, thing.station), (island.with_person, thing.technician)), 2
    ):
        mine = rows_of[of] = [*rows_of[of]]
        at = mine.index(k)
        del mine[at]
        if at < len(mine):
            island.rows[mine[at], column] = mine[at - 1] if at else -1
            dirty[mine[at]] = True
    dirty[k] = False


def _link(island: Island, k: int, dirty: Bools) -> None:
    """Put a new row among its station's and its technician's things."""
    thing = island.items[k].thing
    for column, (rows_of, of) in enumerate(
        ((island.at_station, thing.station), (island.with_person, thing.technician)), 2
    ):
        mine = rows_of[of] = [*rows_of.get(of, ())]
        at = bisect_left(mine, island.keys[k], key=island.keys.__getitem__)
        island.rows[k, column] = mine[at - 1] if at else -1
        if at < len(mine):
            island.rows[mine[at], column] = k
            dirty[mine[at]] = True
        mine.insert(at, k)
    dirty[k] = True


def _decide(judge: Judge, island: Island, stations: set[Group], shifts: set[ShiftKey]) -> list[int]:
    """Find out anew which ends are promised; returns the rows whose limits are not what they were.

    A station-day on which a run has placed somebody; a shift with such a booking, or without any
    booking and with care at such a station-day.
    """
    fresh: list[int] = []
    shifts = {*shifts}
    for place in stations:
        station, day = place
        mine = [k for k in island.at_station.get(station, ()) if island.items[k].group[1] == day]
        _set(island.decided.stations, place, any(_is_run(island.items[k]) for k in mine))
        for k in mine:
            item = island.items[k]
            if not item.thing.key and item.thing.technician >= 0:
                shifts.add((item.thing.technician, item.shift))
        sessions = [k for k in mine if island.items[k].thing.key]
        closes = judge.closes(island.items[sessions[-1]]) - island.base if sessions else NEVER
        fresh += _limit(island, island.last_session, place, sessions, 6, closes)
        if sessions:
            island.bound[sessions[-1], 1] = place in island.decided.stations
    for shift in shifts:
        mine = [
            k for k in island.with_person.get(shift[0], ()) if island.items[k].shift == shift[1]
        ]
        cares = [k for k in mine if _is_care(island.items[k])]
        booked = any(island.items[k].thing.key for k in mine)
        _set(island.decided.cared, shift, bool(cares) and not booked)
        runs = any(_is_run(island.items[k]) for k in mine) or (
            not booked
            and any(
                (island.items[k].thing.station, island.items[k].group[1]) in island.decided.stations
                for k in cares
            )
        )
        _set(island.decided.shifts, shift, runs)
        ends = judge.shift_ends(shift) - island.base
        fresh += _limit(island, island.last_thing, shift, mine, 7, ends)
        if mine:
            island.bound[mine[-1], 2] = runs
    return fresh


def _is_run(item: Item) -> bool:
    return bool(item.thing.key) and not item.fixed


def _is_care(item: Item) -> bool:
    return not item.thing.key and item.thing.station >= 0 <= item.thing.technician


def _set(members: set[tuple[int, int]], one: tuple[int, int], is_in: bool) -> None:
    if is_in:
        members.add(one)
    else:
        members.discard(one)


def _limit(
    island: Island, last: dict[tuple[int, int], int], of: tuple[int, int], rows: list[int],
    column: int, limit: int,
) -> list[int]:  # fmt: skip
    """Move a limit to the last of some rows; returns that row if it did not have it before."""
    was = last.pop(of, -1)
    now = rows[-1] if rows else -1
    if now >= 0:
        last[of] = now
    if was == now:
        return []
    if was >= 0:
        island.rows[was, column] = NEVER
        island.counts[was, column - 5] = 0
        island.bound[was, column - 5] = False
    if now < 0:
        return []
    island.rows[now, column] = limit
    return [now]


def _allow(judge: Judge, island: Island) -> Ints:
    """What is kept must stay kept, and what is broken already must not get worse."""
    most = np.array([judge.waits, judge.lates, judge.lates], dtype=np.int32)
    free = np.int32(judge.draws)
    return np.where(island.bound, np.maximum(most, island.counts), free)


def _last(rows: dict[int, list[int]], key: int) -> int:
    return rows[key][-1] if key >= 0 and rows.get(key) else -1
