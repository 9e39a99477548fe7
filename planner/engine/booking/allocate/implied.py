"""Rows that others imply: with them the prices of a site-day could be shifted about for nothing.

Station, technician and joint rows of one part mostly hold the same options and differ in their
minutes only. Only the least of them binds; the ascent climbs far better without the rest.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.options import Options

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


def needed_rows(
    options: Options, pattern: Ints, first: Longs, rows_of: Ints, cap: Floats, people: int
) -> Bools:
    """Which rows some choice could break while all other needed rows hold.

    Pattern ``p``, of options ``pattern == p``, uses rows ``rows_of[first[p]:first[p + 1]]``; jobs
    from ``people`` on are care. Row A is implied by row B where both hold the same options of
    requests, and A has at least B's minutes, and those of any care that A alone may hold on top.
    """
    is_care = np.zeros(len(first) - 1, dtype=np.bool_)
    is_care[pattern[options.first[people] :]] = True
    held: list[list[int]] = [[] for _ in cap]
    care: list[set[int]] = [set() for _ in cap]
    for p in range(len(first) - 1):
        for row in rows_of[first[p] : first[p + 1]].tolist():
            if is_care[p]:
                care[row].add(p)
            else:
                held[row].append(p)
    alike: dict[tuple[int, ...], list[int]] = {}
    for row, patterns in enumerate(held):
        if patterns or care[row]:
            alike.setdefault(tuple(patterns), []).append(row)
    most = _care_minutes(options, pattern, first, rows_of, len(cap), people)
    needed = np.zeros(len(cap), dtype=np.bool_)
    for rows in alike.values():
        needed[rows] = True
        for row in sorted(rows, key=lambda item: -cap[item]):
            needed[row] = not any(
                cap[row] >= cap[other] + (0.0 if care[row] <= care[other] else most[row])
                for other in rows
                if other != row and needed[other]
            )
    return needed


def _care_minutes(
    options: Options, pattern: Ints, first: Longs, rows_of: Ints, count: int, people: int
) -> Floats:
    """The minutes of all care that may lie in each row."""
    most = np.zeros(count)
    for job in range(people, len(options.unbooked)):
        span = slice(options.first[job], options.first[job + 1])
        rows = {
            row
            for p in np.unique(pattern[span])
            for row in rows_of[first[p] : first[p + 1]].tolist()
        }
        if rows:
            most[list(rows)] += options.minutes[span].max()
    return most
