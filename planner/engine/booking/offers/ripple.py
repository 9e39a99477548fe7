"""The rule of the day, compiled: run a table of things, and what one more thing changes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.vectors import finish, finish_drawn, over, over_pair
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Draws = NDArray[np.float32]

NEVER = 1 << 20
IDLE = np.float32(-1e6)
"""The time since which a station or technician is ready that has had nothing to do yet."""
HAIR = 1e-3
"""Minutes by which a sum of single-precision lengths may be off."""


@compiled
def end_of(row: Ints, a: Draws, b: Draws, pool: Draws, ends: Draws) -> None:
    """Ends of one thing, once its station (``a``) and technician (``b``) are ready."""
    vectors, draws = pool.shape[1], pool.shape[2]
    if row[4] >= 0:
        turn = (row[5] // vectors * 997) % draws
        finish_drawn(a, b, row[0], pool[row[4], row[5] % vectors], turn, ends)
    else:
        finish(a, b, row[0], row[1], ends)


@compiled
def run_rows(
    rows: Ints, pool: Draws, wait: int, late: int, first: int, ends: Draws, counts: Ints
) -> None:
    """Run a table of things in order, from row ``first`` on; what is before was run already.

    Arguments, with shapes:

    rows : (things, 8)
        own time, minutes, row of the thing before at its station and with its technician (-1:
        none), profile (-1: certain minutes), number of its draws, station limit, shift limit
        (`NEVER` where there is none). Minutes are counted from one midnight for the table.
    pool : (profiles, vectors, draws)
    wait, late
        Minutes of the two promises.
    ends : (things, draws), out
    counts : (things, 3), out
        Draws that wait too long, that end too late for the station, and for the shift.
    """
    idle = np.full(pool.shape[2], IDLE, dtype=np.float32)
    for k in range(first, rows.shape[0]):
        a = ends[rows[k, 2]] if rows[k, 2] >= 0 else idle
        b = ends[rows[k, 3]] if rows[k, 3] >= 0 else idle
        counts[k, 0] = over_pair(a, b, rows[k, 0] + wait + HAIR)
        end_of(rows[k], a, b, pool, ends[k])
        counts[k, 1] = over(ends[k], rows[k, 6] + late + HAIR) if rows[k, 6] < NEVER else 0
        counts[k, 2] = over(ends[k], rows[k, 7] + late + HAIR) if rows[k, 7] < NEVER else 0


@compiled
def kept(row: Ints, ends: Draws, late: int, allow: Ints) -> bool:
    """Whether a thing ends in time for its station and its shift, where it is their last."""
    for column in (1, 2):
        limit = row[5 + column]
        if limit < NEVER and over(ends, limit + late + HAIR) > allow[column]:
            return False
    return True


@compiled
def insert(
    rows: Ints, ends: Draws, pool: Draws, wait: int, late: int, allow: Ints,
    one: Ints, place: int, next_s: int, next_t: int, mine: Ints, work: Draws,
) -> int:  # fmt: skip
    """Put one more thing before row ``place`` and follow what it changes.

    ``rows``, ``ends``, ``pool``, ``wait`` and ``late`` as in `run_rows`. ``one`` is the new thing
    as such a row; ``next_s`` and ``next_t`` are the rows that follow it at its station and with
    its technician (-1: none). ``allow`` (things, 3) and ``mine`` (3) say how many draws may break
    each promise. ``work`` (things + 1, draws) is overwritten. Returns the draws in which the new
    thing waits too long, or -1 where some promise would be broken.
    """
    m = rows.shape[0]
    idle = np.full(pool.shape[2], IDLE, dtype=np.float32)
    a = ends[one[2]] if one[2] >= 0 else idle
    b = ends[one[3]] if one[3] >= 0 else idle
    waits = over_pair(a, b, one[0] + wait + HAIR)
    end_of(one, a, b, pool, work[m])
    if waits > mine[0] or not kept(one, work[m], late, mine):
        return -1
    changed = np.zeros(m + 1, dtype=np.bool_)
    changed[m] = True
    for k in range(place, m):
        s = m if k == next_s else rows[k, 2]
        t = m if k == next_t else rows[k, 3]
        if not ((s >= 0 and changed[s]) or (t >= 0 and changed[t])):
            continue
        a = idle
        if s >= 0:
            a = work[s] if changed[s] else ends[s]
        b = idle
        if t >= 0:
            b = work[t] if changed[t] else ends[t]
        if over_pair(a, b, rows[k, 0] + wait + HAIR) > allow[k, 0]:
            return -1
        end_of(rows[k], a, b, pool, work[k])
        if not kept(rows[k], work[k], late, allow[k]):
            return -1
        for i in range(work.shape[1]):
            if work[k, i] != ends[k, i]:
                changed[k] = True
                break
    return waits
