"""Rows that the promises bring (MODEL.md, L6): whole sessions, as long as they are drawn."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import sqrt
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.rows import Row as CapacityRow
from planner.engine.booking.allocate.rows import break_minutes, free_minutes
from planner.engine.booking.bounds.fill import Row, most
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import SiteDay
from planner.engine.sessions.length import session_length
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]

KINDS = 4
"""Profiles that a site-day's rows count: those with the most options there."""
USUAL = 480
"""Minutes of the day for which profiles are weighed against each other."""
SURE = 1e-6
DAY_PART = 2

Kinds = tuple[int, ...]


@dataclass(slots=True)
class Fills:
    """What one person or station may bring at most, kept by kinds of session and room."""

    problem: Problem
    known: dict[tuple[Kinds, Row], float] = field(default_factory=dict)

    def most(self, kinds: Kinds, row: Row) -> float:
        """The most weight that a row may hold."""
        key = (kinds, row)
        if key not in self.known:
            profiles = [self.problem.network.profiles[kind] for kind in kinds]
            minutes = [int(self.problem.lengths[kind]) for kind in kinds]
            self.known[key] = most(
                [session_length(profile) for profile in profiles], minutes, self.weights(kinds), row
            )
        return self.known[key]

    def weights(self, kinds: Kinds) -> list[float]:
        """Minutes of a usual day over the sessions of one kind that fill it, nearly."""
        risk = min(max(self.problem.network.policy.overtime_risk, SURE), 0.5)
        z = NormalDist().inv_cdf(1 - risk)
        found = []
        for kind in kinds:
            length = session_length(self.problem.network.profiles[kind])
            mean = max(length.mean_booked, 1e-3)
            cells = np.arange(len(length.booked_pmf)) * length.step
            spread = sqrt(max(0.0, float(length.booked_pmf @ (cells - mean) ** 2)))
            root = (-z * spread + sqrt((z * spread) ** 2 + 4 * mean * USUAL)) / (2 * mean)
            found.append(USUAL / root**2)
        return found


def with_promises(problem: Problem, options: Options, capacity: Capacity) -> Capacity:
    """The capacity with a row for the technicians and one for the stations of every site-day."""
    people = options.request < len(problem.network.requests)
    kinds = np.where(people, options.profile, -1).astype(np.int64)
    packed = capacity.pattern.astype(np.int64) * (len(problem.lengths) + 1) + kinds + 1
    _, at, pattern = np.unique(packed, return_index=True, return_inverse=True)
    old, profile, siteday = capacity.pattern[at], kinds[at], options.siteday[at]
    fills = Fills(problem)
    rows, cap = list(capacity.rows), list(capacity.cap)
    lists = [
        [(int(row), 1.0) for row in capacity.rows_of[capacity.first[p] : capacity.first[p + 1]]]
        for p in old
    ]
    for g in np.unique(options.siteday[people]).tolist():
        counted = _kinds(options, people, g, len(problem.lengths))
        weight = dict(zip(counted, fills.weights(counted), strict=True))
        here = np.flatnonzero(siteday == g)
        for row in _siteday_rows(problem, problem.sitedays[g], counted, fills):
            for p in here.tolist():
                kind = int(profile[p])
                if kind in weight:
                    lists[p].append((len(rows), weight[kind] / float(options.minutes[at[p]])))
            rows.append(row)
            cap.append(row.minutes)
    flat = [item for each in lists for item in each]
    return Capacity(
        rows=rows,
        cap=np.array(cap, dtype=np.float64),
        pattern=pattern.reshape(-1).astype(np.int32),
        first=np.concatenate([[0], np.cumsum([len(each) for each in lists])]).astype(np.int64),
        rows_of=np.array([row for row, _ in flat], dtype=np.int32),
        factor=np.array([share for _, share in flat], dtype=np.float64),
    )


def _kinds(options: Options, people: NDArray[np.bool_], g: int, profiles: int) -> Kinds:
    """The profiles asked for most on a site-day, the most frequent last."""
    here = people & (options.siteday == g)
    count = np.bincount(options.profile[here], minlength=profiles)
    chosen = [int(kind) for kind in np.argsort(-count, kind="stable")[:KINDS] if count[kind]]
    return tuple(reversed(chosen))


def _siteday_rows(
    problem: Problem, siteday: SiteDay, kinds: Kinds, fills: Fills
) -> list[CapacityRow]:
    """The row of the technicians and the row of the stations, everyone's sessions in both."""
    free = free_minutes(siteday)
    rests = break_minutes(problem, siteday, DAY_PART)
    staffed = free.workers.any(axis=0)
    workers = 0.0
    for place, mask in enumerate(free.workers):
        end = siteday.workers[place].end if _whole(problem, siteday, place) else None
        workers += _held(problem, siteday, kinds, fills, mask, int(rests[place]), end)
    stations = sum(
        _held(problem, siteday, kinds, fills, mask & staffed, 0, None) for mask in free.stations
    )
    return [
        CapacityRow(siteday.index, "technician", 0, DAY_PART, workers),
        CapacityRow(siteday.index, "station", 0, DAY_PART, stations),
    ]


def _held(
    problem: Problem, siteday: SiteDay, kinds: Kinds, fills: Fills, mask: NDArray[np.bool_],
    rest: int, end: int | None,
) -> float:  # fmt: skip
    """The most weight in a day's free minutes: all as one interval, or each interval on its own.

    ``end`` is the end of a shift, where it makes a promise of its own. ``rest``, the least that a
    break takes, counts in the first way only: it may be in any interval.
    """
    policy, grain = problem.network.policy, problem.network.grain

    def row(low: int, high: int, planned: int, rest: int) -> Row:
        begin = told(low, grain)
        room = siteday.closes + policy.overtime_minutes - begin
        if end is not None:
            room = min(room, end + policy.overtime_minutes - begin - rest)
        wait = high + policy.wait_minutes - begin - rest
        return Row(max(0, planned - rest), room, policy.overtime_risk, wait, policy.wait_risk)

    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(np.int8)))
    if not len(edges):
        return 0.0
    spans = edges.reshape(-1, 2).tolist()
    whole = fills.most(kinds, row(int(edges[0]), int(edges[-1]), int(mask.sum()), rest))
    each = sum(fills.most(kinds, row(low, high, high - low, 0)) for low, high in spans)
    return min(whole, each)


def _whole(problem: Problem, siteday: SiteDay, place: int) -> bool:
    """Whether a worker's shift lies within the day, so that its end is the shift's."""
    worker = siteday.workers[place]
    shift = problem.network.technicians[worker.technician].shifts[worker.shift]
    return shift.start >= siteday.day * DAY and shift.end <= (siteday.day + 1) * DAY
