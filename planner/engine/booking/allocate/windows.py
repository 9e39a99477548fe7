"""Rows for times finer than half a day: what those who can come only then may take of them.

The rows of a part of the day let everybody use all of it. Where many can come in the same hour
only, the hour's own minutes bind. An option whose every allowed minute lies within ``[low, high)``
takes its minutes there; the row's cap is the pairs of a free station and a free worker in it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options, available_times
from planner.engine.booking.allocate.rows import Row, free_minutes
from planner.engine.booking.problem import Problem
from planner.engine.units import DAY, NOON

Longs = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOST = 24
"""Rows of one site-day at most: those that are asked most beyond what they hold."""
EDGES = 48
"""Distinct begins and ends that are looked at; with more, the rarest are left aside."""


def with_windows(problem: Problem, options: Options, capacity: Capacity) -> Capacity:
    """The capacity with a row for every time span that is asked for more than it holds.

    Times of at most half a day. Spans that nobody overfills are left out: they cannot bind.
    """
    low, high = allowed_span(problem, options)
    narrow = np.flatnonzero(high > low)
    if not len(narrow):
        return capacity
    rows, cap = list(capacity.rows), list(capacity.cap)
    member = np.zeros(len(options.cost), dtype=np.int64)
    beyond: list[list[int]] = []
    for some in _by_siteday(options, narrow):
        g = int(options.siteday[some[0]])
        for k, (start, end, minutes) in enumerate(
            _tight(problem, g, low[some], high[some], options.minutes[some].astype(np.float64))
        ):
            inside = some[(low[some] >= start) & (high[some] <= end)]
            member[inside] |= 1 << k
            if k == 0:
                beyond.append([g])
            beyond[-1].append(len(rows))
            rows.append(Row(g, "window", 0, int(start >= NOON), minutes))
            cap.append(minutes)
    if not beyond:
        return capacity
    return _joined(options, capacity, member, {each[0]: each[1:] for each in beyond}, rows, cap)


def allowed_span(problem: Problem, options: Options) -> tuple[Longs, Longs]:
    """For each option, the minutes ``[low, high)`` of its day in which it lies wherever it is put.

    ``high <= low`` where it may be anywhere in its part of the day, and for care.
    """
    times = available_times(problem)
    people = int(options.first[len(problem.network.requests)])
    request = options.request[:people]
    count = np.diff(times.first)[request]
    option = np.repeat(np.arange(people), count)
    within = np.arange(len(option)) - np.repeat(np.cumsum(count) - count, count)
    window = times.first[request[option]] + within
    day = np.array([siteday.day for siteday in problem.sitedays], dtype=np.int64)
    base = day[options.siteday[option]] * DAY
    part, minutes = options.part[option], options.minutes[option].astype(np.int64)
    first = np.maximum(times.start[window] - base, np.where(part == 0, 0, NOON))
    last = np.minimum(times.end[window] - base, np.where(part == 0, NOON - 1 + minutes, DAY))
    fits = last - first >= minutes
    low = np.full(len(options.cost), DAY * 2, dtype=np.int64)
    high = np.full(len(options.cost), -1, dtype=np.int64)
    np.minimum.at(low, option[fits], first[fits])
    np.maximum.at(high, option[fits], last[fits])
    return low, high


def _by_siteday(options: Options, narrow: Longs) -> list[Longs]:
    order = narrow[np.argsort(options.siteday[narrow], kind="stable")]
    return np.split(order, np.flatnonzero(np.diff(options.siteday[order])) + 1)


def _tight(
    problem: Problem, g: int, low: Longs, high: Longs, minutes: NDArray[np.float64]
) -> list[tuple[int, int, float]]:
    """The spans of a site-day that are asked beyond what they hold: (start, end, cap)."""
    free = free_minutes(problem.sitedays[g])
    pairs = np.minimum(free.stations.sum(axis=0), free.workers.sum(axis=0))
    upto = np.concatenate([[0.0], np.cumsum(pairs)])
    starts, ends = _edges(low), _edges(high)
    asked = np.zeros((len(starts), len(ends)))
    known = np.isin(low, starts) & np.isin(high, ends)
    at = (np.searchsorted(starts, low[known]), np.searchsorted(ends, high[known]))
    np.add.at(asked, at, minutes[known])
    asked = np.cumsum(np.cumsum(asked[::-1], axis=0)[::-1], axis=1)
    holds = upto[np.minimum(ends, DAY)][None, :] - upto[starts][:, None]
    length = ends[None, :] - starts[:, None]
    over = np.where((length > 0) & (length < DAY // 2), asked - holds, 0.0)
    best = np.argsort(-over, axis=None, kind="stable")[:MOST]
    chosen = [np.unravel_index(k, over.shape) for k in best.tolist()]
    return [(int(starts[i]), int(ends[j]), float(holds[i, j])) for i, j in chosen if over[i, j] > 0]


def _edges(values: Longs) -> Longs:
    """The distinct values, the most frequent where there are too many."""
    found, count = np.unique(values, return_counts=True)
    if len(found) > EDGES:
        found = np.sort(found[np.argsort(-count, kind="stable")[:EDGES]])
    return found


def _joined(
    options: Options, capacity: Capacity, member: Longs, of_day: dict[int, list[int]],
    rows: list[Row], cap: list[float],
) -> Capacity:  # fmt: skip
    """The capacity with patterns split by the spans that options lie in."""
    keys = np.stack([capacity.pattern.astype(np.int64), member], axis=1)
    _, at, pattern = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    lists = []
    for o in at.tolist():
        p, mask = int(capacity.pattern[o]), int(member[o])
        mine = of_day.get(int(options.siteday[o]), [])
        lists.append(
            [
                *capacity.rows_of[capacity.first[p] : capacity.first[p + 1]].tolist(),
                *(row for k, row in enumerate(mine) if mask >> k & 1),
            ]
        )
    return replace(
        capacity,
        rows=rows,
        cap=np.array(cap, dtype=np.float64),
        pattern=pattern.reshape(-1).astype(np.int32),
        first=np.concatenate([[0], np.cumsum([len(each) for each in lists])]).astype(np.int64),
        rows_of=np.array([row for each in lists for row in each], dtype=np.int32),
    )
