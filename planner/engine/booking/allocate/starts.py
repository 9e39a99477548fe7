"""Compiled loops that find the parts of days in which a request can start."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled
from planner.engine.units import DAY, NOON

Ints = NDArray[np.int32]
Longs = NDArray[np.int64]


@compiled
def _any_start(
    cum: NDArray[np.int16], minutes: int, day: int, part: int,
    first: int, last: int, start: Longs, end: Longs,
) -> bool:  # fmt: skip
    """Whether a feasible start lies in a part of a day and in one of the windows first..last."""
    low = 0 if part == 0 else NOON
    high = NOON if part == 0 else DAY
    if first == last:
        return bool(cum[high] > cum[low])
    base = day * DAY
    for k in range(first, last):
        a = max(low, start[k] - base)
        b = min(high, end[k] - base - minutes + 1)
        if a < b and cum[b] > cum[a]:
            return True
    return False


@compiled
def count_parts(
    request: Ints, combo: Ints, release: Ints, day_row: Ints, table: NDArray[np.int16],
    minutes: Ints, first: Longs, start: Longs, end: Longs,
) -> int:  # fmt: skip
    """How many options the candidates of one site have; arguments as `fill_parts`."""
    total = 0
    for k in range(request.shape[0]):
        r = request[k]
        for day in range(max(0, release[r]), day_row.shape[0]):
            if day_row[day] >= 0:
                cum = table[day_row[day], combo[k]]
                for part in range(2):
                    if _any_start(
                        cum, minutes[combo[k]], day, part, first[r], first[r + 1], start, end
                    ):
                        total += 1
    return total


@compiled
def fill_parts(
    request: Ints, combo: Ints, release: Ints, day_row: Ints, table: NDArray[np.int16],
    minutes: Ints, first: Longs, start: Longs, end: Longs, out: Ints,
) -> None:  # fmt: skip
    """Write (candidate, day, part) of every option of one site into ``out``.

    ``request`` and ``combo`` are by candidate; ``release`` by request; ``day_row[day]`` is the
    row of ``table`` (site-days, combos, 1441) or -1; windows are CSR by request.
    """
    at = 0
    for k in range(request.shape[0]):
        r = request[k]
        for day in range(max(0, release[r]), day_row.shape[0]):
            if day_row[day] >= 0:
                cum = table[day_row[day], combo[k]]
                for part in range(2):
                    if _any_start(
                        cum, minutes[combo[k]], day, part, first[r], first[r + 1], start, end
                    ):
                        out[at, 0] = k
                        out[at, 1] = day
                        out[at, 2] = part
                        at += 1
