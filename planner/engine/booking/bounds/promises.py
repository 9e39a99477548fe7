"""Rows that the promises bring (MODEL.md, L6): whole sessions, as long as they are drawn."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.rows import Row as CapacityRow
from planner.engine.booking.allocate.rows import break_minutes, free_minutes
from planner.engine.booking.bounds.fill import UNIT, Fill, Kind, Row, fill
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import SiteDay
from planner.engine.sessions.length import session_length
from planner.engine.units import DAY, told

DAY_PART = 2
TECHNICIAN, STATION = "technician", "station"

Kinds = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """The free minutes of one person or station on a day, in minutes of that day.

    Sessions may end by ``closes``, and by ``ends``, the end of a shift, where that makes a promise
    of its own; overtime is in both. A break takes ``rest`` minutes at least, in whole grains so
    that told times stay on the grain; ``within`` says that it lies in one of the ``spans``, as only
    fixed appointments part them.
    """

    spans: tuple[tuple[int, int], ...]
    closes: int
    ends: int | None
    rest: int
    within: bool
    grain: int

    def row(self, low: int, high: int, planned: int, less: int) -> Row:
        """An interval of which sessions have ``less`` minutes less."""
        begin = told(low, self.grain)
        room = self.closes - begin
        if self.ends is not None:
            room = min(room, self.ends - begin - less)
        return Row(max(0, planned - less), max(0, room), max(0, high - begin - less))

    def whole(self, less: int = 0) -> Row:
        """All as one interval, less the break, and what else takes ``less`` minutes."""
        minutes = sum(high - low for low, high in self.spans)
        low, high = self.spans[0][0], self.spans[-1][1]
        return self.row(low, high, minutes, self.rest + told(less, self.grain))

    def each(self, less: int = 0) -> list[Row]:
        """Every interval by itself."""
        return [self.row(low, high, high - low, less) for low, high in self.spans]


@dataclass(slots=True)
class Fills:
    """What a stretch may bring at most; worked out once for each set of kinds."""

    problem: Problem
    limit: Row
    weight: NDArray[np.int64]
    known: dict[Kinds, Fill] = field(default_factory=dict)

    def most(self, kinds: Kinds, stretch: Stretch, less: int = 0) -> float:
        """The most minutes of weight that a stretch may hold beside ``less`` minutes of care."""
        if kinds not in self.known:
            self.known[kinds] = self._fill(kinds)
        known = self.known[kinds]
        each = [known.most(row) for row in stretch.each()]
        rested = [known.most(row) for row in stretch.each(stretch.rest)]
        rest = min(np.subtract(each, rested)) if stretch.within else 0
        return UNIT * float(min(known.most(stretch.whole(less)), sum(each) - rest))

    def for_care(self, kinds: Kinds, stretch: Stretch, minutes: Iterable[int]) -> float:
        """The weight that a minute of care takes at least, whatever the ``minutes`` in all."""
        most = self.most(kinds, stretch)
        return max(0.0, min((most - self.most(kinds, stretch, m)) / m for m in minutes))

    def _fill(self, chosen: Kinds) -> Fill:
        network = self.problem.network
        kinds = [
            Kind(
                minutes=int(self.problem.lengths[kind]),
                length=session_length(network.profiles[kind]),
                weight=int(self.weight[kind]),
            )
            for kind in chosen
        ]
        return fill(kinds, network.policy, network.grain, self.limit)


def weights(problem: Problem) -> NDArray[np.int64]:
    """What a session of each profile weighs, in units of `UNIT`: its mean minutes."""
    means = [session_length(profile).mean_booked for profile in problem.network.profiles]
    return np.maximum(1, np.round(np.array(means) / UNIT)).astype(np.int64)


def with_promises(problem: Problem, options: Options, capacity: Capacity) -> Capacity:
    """The capacity with a row for the technicians and one for the stations of every site-day."""
    people = options.request < len(problem.network.requests)
    kinds = np.where(people, options.profile, -1).astype(np.int64)
    packed = capacity.pattern.astype(np.int64) * (len(problem.lengths) + 1) + kinds + 1
    _, at, pattern = np.unique(packed, return_index=True, return_inverse=True)
    old, profile, days_of = capacity.pattern[at], kinds[at], options.siteday[at]
    days = np.unique(options.siteday[people]).tolist()
    stretches = {g: _stretches(problem, problem.sitedays[g]) for g in days}
    fills = Fills(problem, _largest(stretches.values()), weights(problem))
    counted = _kinds(problem, options, people)
    rows, cap = list(capacity.rows), list(capacity.cap)
    lists = [
        [(int(row), 1.0) for row in capacity.rows_of[capacity.first[p] : capacity.first[p + 1]]]
        for p in old
    ]
    care = _care(problem, options)
    staffed = {c for c, item in enumerate(problem.network.care) if item.technician}
    first_care = len(problem.network.requests)
    for g in days:
        siteday = problem.sitedays[g]
        chosen = counted[siteday.site]
        here = np.flatnonzero(days_of == g)
        for resource, held in stretches[g].items():
            rate = _rate(problem, siteday, resource, held, care[g], fills, chosen)
            for p in here.tolist():
                kind = int(profile[p])
                if kind >= 0:
                    share = UNIT * float(fills.weight[kind]) / float(options.minutes[at[p]])
                    lists[p].append((len(rows), share))
                elif resource == STATION or int(options.request[at[p]]) - first_care in staffed:
                    lists[p].append((len(rows), rate))
            minutes = sum(fills.most(chosen, each) for each in held.values())
            rows.append(CapacityRow(g, resource, 0, DAY_PART, minutes))
            cap.append(minutes)
    flat = [item for each in lists for item in each]
    return Capacity(
        rows=rows,
        cap=np.array(cap, dtype=np.float64),
        pattern=pattern.reshape(-1).astype(np.int32),
        first=np.concatenate([[0], np.cumsum([len(each) for each in lists])]).astype(np.int64),
        rows_of=np.array([row for row, _ in flat], dtype=np.int32),
        factor=np.array([share for _, share in flat], dtype=np.float64),
    )


def _kinds(problem: Problem, options: Options, people: NDArray[np.bool_]) -> dict[int, Kinds]:
    """The profiles that are asked for at each site."""
    site = np.array([siteday.site for siteday in problem.sitedays], dtype=np.int64)
    place, profile = site[options.siteday[people]], options.profile[people]
    asked = np.unique(np.stack([place, profile], axis=1), axis=0)
    return {
        each: tuple(asked[asked[:, 0] == each, 1].tolist()) for each in np.unique(place).tolist()
    }


def _care(problem: Problem, options: Options) -> defaultdict[int, list[int]]:
    """By site-day, the care that may be placed there."""
    found = defaultdict(list)
    some = options.request >= len(problem.network.requests)
    place = np.stack([options.siteday[some], options.request[some]], axis=1)
    for g, entry in np.unique(place, axis=0).tolist():
        found[g].append(entry - len(problem.network.requests))
    return found


def _rate(
    problem: Problem, siteday: SiteDay, resource: str, held: dict[int, Stretch], care: list[int],
    fills: Fills, kinds: Kinds,
) -> float:  # fmt: skip
    """The weight that a minute of care takes from a resource, wherever it is placed that day."""
    items = [problem.network.care[c] for c in care]
    if resource == TECHNICIAN:
        minutes = [item.minutes for item in items if item.technician]
        if not minutes:
            return 0.0
        total = range(min(minutes), min(sum(minutes), DAY) + 1)
        return min((fills.for_care(kinds, each, total) for each in set(held.values())), default=0.0)
    free = free_minutes(siteday)
    rates = []
    for place in {siteday.stations.index(problem.index.station[item.station]) for item in items}:
        here = [
            item for item in items if problem.index.station[item.station] == siteday.stations[place]
        ]
        unstaffed = (free.stations[place] & ~free.workers.any(axis=0)).any()
        if place not in held or (unstaffed and not all(item.technician for item in here)):
            return 0.0  # it may be placed where it is in nobody's way
        minutes = [item.minutes for item in here]
        total = range(min(minutes), min(sum(minutes), DAY) + 1)
        rates.append(fills.for_care(kinds, held[place], total))
    return min(rates, default=0.0)


def _stretches(problem: Problem, siteday: SiteDay) -> dict[str, dict[int, Stretch]]:
    """The free minutes of a site-day's technicians, and of its stations while one is there."""
    free = free_minutes(siteday)
    rests = break_minutes(problem, siteday, DAY_PART)
    staffed = free.workers.any(axis=0)
    overtime = problem.network.policy.overtime_minutes
    workers = {}
    for place, mask in enumerate(free.workers):
        if mask.any():
            whole = _whole(problem, siteday, place)
            ends = siteday.workers[place].end + overtime if whole else None
            workers[place] = _stretch(problem, siteday, mask, int(rests[place]), ends)
    stations = {
        place: _stretch(problem, siteday, mask & staffed, 0, None)
        for place, mask in enumerate(free.stations)
        if (mask & staffed).any()
    }
    return {TECHNICIAN: workers, STATION: stations}


def _stretch(
    problem: Problem, siteday: SiteDay, mask: NDArray[np.bool_], rest: int, ends: int | None
) -> Stretch:
    """Somebody's free minutes as a stretch."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    low, high = int(edges[0]), int(edges[-1])
    return Stretch(
        spans=tuple((start, end) for start, end in edges.reshape(-1, 2).tolist()),
        closes=siteday.closes + problem.network.policy.overtime_minutes,
        ends=ends,
        rest=told(rest, problem.network.grain),
        within=any(start <= low and high <= end for start, end in siteday.opens),
        grain=problem.network.grain,
    )


def _largest(stretches: Iterable[dict[str, dict[int, Stretch]]]) -> Row:
    """A row that holds whatever any of them holds."""
    rows = [
        row
        for each in stretches
        for held in each.values()
        for stretch in set(held.values())
        for row in (stretch.whole(), *stretch.each())
    ]
    return Row(
        max((row.planned for row in rows), default=0),
        max((row.room for row in rows), default=0),
        max((row.last for row in rows), default=0),
    )


def _whole(problem: Problem, siteday: SiteDay, place: int) -> bool:
    """Whether a worker's shift lies within the day, so that its end is the shift's."""
    worker = siteday.workers[place]
    shift = problem.network.technicians[worker.technician].shifts[worker.shift]
    return shift.start >= siteday.day * DAY and shift.end <= (siteday.day + 1) * DAY
