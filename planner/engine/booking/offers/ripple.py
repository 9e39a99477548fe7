"""The rule of the day, compiled: run a table of things, run part of it again, and try one more.

All numbers of the inner loops are of single precision, so that several are done at a time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Draws = NDArray[np.float32]
Vector = NDArray[np.float32]
Count = np.int32
Minutes = np.float32

NEVER = 1 << 20
IDLE = Minutes(-1e6)
"""The time since which a station or technician is ready that has had nothing to do yet."""
HAIR = 1e-3
"""Minutes by which a sum of single-precision lengths may be off."""


@compiled
def too_late(ends: Vector, limit: int, late: int) -> Count:
    """In how many draws something ends more than ``late`` minutes after a limit."""
    count = Count(0)
    if limit < NEVER:
        bar = Minutes(limit + late + HAIR)
        for i in range(ends.shape[0]):
            count += Count(ends[i] > bar)
    return count


@compiled
def certain(
    a: Vector, b: Vector, own: Minutes, minutes: Minutes, bar: Minutes,
    old: Vector, ends: Vector,
) -> tuple[Count, Count]:  # fmt: skip
    """Ends of a thing of certain length; as `step`."""
    waits, differs = Count(0), Count(0)
    for i in range(ends.shape[0]):
        begin = max(a[i], b[i])
        waits += Count(begin > bar)
        end = max(begin, own) + minutes
        differs |= Count(end != old[i])
        ends[i] = end
    return waits, differs


@compiled
def drawn(
    a: Vector, b: Vector, own: Minutes, lengths: Vector, bar: Minutes,
    old: Vector, ends: Vector,
) -> tuple[Count, Count]:  # fmt: skip
    """Ends of a booking of drawn lengths; as `step`."""
    waits, differs = Count(0), Count(0)
    for i in range(ends.shape[0]):
        begin = max(a[i], b[i])
        waits += Count(begin > bar)
        end = max(begin, own) + lengths[i]
        differs |= Count(end != old[i])
        ends[i] = end
    return waits, differs


@compiled
def step(
    row: Ints, a: Vector, b: Vector, pool: Draws, wait: int, old: Vector, ends: Vector
) -> tuple[Count, Count]:
    """One thing, once its station (``a``) and technician (``b``) are ready.

    Writes ``ends``; returns in how many draws it waits more than ``wait`` minutes, and whether any
    end differs from ``old``. ``row`` as in `run_rows`.
    """
    own, bar = Minutes(row[0]), Minutes(row[0] + wait + HAIR)
    if row[4] < 0:
        return certain(a, b, own, Minutes(row[1]), bar, old, ends)
    vectors, n = pool.shape[1], pool.shape[2]
    lengths, turn = pool[row[4], row[5] % vectors], (row[5] // vectors * 997) % n
    k = n - turn
    waits, differs = drawn(a[:k], b[:k], own, lengths[turn:], bar, old[:k], ends[:k])
    if turn:
        more, other = drawn(a[k:], b[k:], own, lengths[:turn], bar, old[k:], ends[k:])
        waits, differs = waits + more, differs | other
    return waits, differs


@compiled
def run_rows(rows: Ints, pool: Draws, wait: int, late: int, ends: Draws, counts: Ints) -> None:
    """Run a table of things in order.

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
    for k in range(rows.shape[0]):
        a = ends[rows[k, 2]] if rows[k, 2] >= 0 else idle
        b = ends[rows[k, 3]] if rows[k, 3] >= 0 else idle
        counts[k, 0] = step(rows[k], a, b, pool, wait, idle, ends[k])[0]
        counts[k, 1] = too_late(ends[k], rows[k, 6], late)
        counts[k, 2] = too_late(ends[k], rows[k, 7], late)


@compiled
def run_again(
    rows: Ints, order: Ints, first: int, dirty: Bools, ends: Draws,
    pool: Draws, wait: int, late: int, counts: Ints, work: Draws, changed: Bools,
) -> None:  # fmt: skip
    """Run again what a change of some rows reaches.

    ``rows`` and the rest as in `run_rows`, but ``ends`` has the ends before the change: rows past
    its last are new. ``order`` lists the rows that happen, in order, ``first`` the place in it
    where the change begins; ``dirty`` marks the rows that are new or follow something else than
    before, or whose limits changed. Out: ``counts`` of the rows reached; ``changed`` marks those
    that end otherwise than before, ``work`` (rows, draws) has their ends.
    """
    idle = np.full(pool.shape[2], IDLE, dtype=np.float32)
    for place in range(first, order.shape[0]):
        k = order[place]
        s, t = rows[k, 2], rows[k, 3]
        if not (dirty[k] or (s >= 0 and changed[s]) or (t >= 0 and changed[t])):
            continue
        a = idle if s < 0 else work[s] if changed[s] else ends[s]
        b = idle if t < 0 else work[t] if changed[t] else ends[t]
        is_new = k >= ends.shape[0]
        waits, differs = step(rows[k], a, b, pool, wait, idle if is_new else ends[k], work[k])
        changed[k] = is_new or differs != 0
        counts[k, 0] = waits
        counts[k, 1] = too_late(work[k], rows[k, 6], late)
        counts[k, 2] = too_late(work[k], rows[k, 7], late)


@compiled
def ready(row: int, idle: Vector, ends: Draws, extra: Draws, slot: Ints) -> Vector:
    """When what stands in a row has ended: -1 is nothing; `insert` says where the ends are."""
    if row < 0:
        return idle
    found: Vector = extra[slot[row]] if slot[row] >= 0 else ends[row]
    return found


@compiled
def kept(row: Ints, ends: Vector, late: int, allow: Ints) -> bool:
    """Whether a thing ends in time for its station and its shift, where it is their last."""
    return bool(
        too_late(ends, row[6], late) <= allow[1] and too_late(ends, row[7], late) <= allow[2]
    )


@compiled
def insert(
    rows: Ints, order: Ints, ends: Draws, extra: Draws, slot: Ints, pool: Draws, wait: int,
    late: int, allow: Ints, one: Ints, place: int, next_s: int, next_t: int, mine: Ints,
    work: Draws, changed: Bools,
) -> int:  # fmt: skip
    """Put one more thing before the row at ``place`` of ``order``, and follow what it changes.

    ``rows``, ``order``, ``pool``, ``wait`` and ``late`` as in `run_again`. A row's ends are
    ``extra[slot[row]]``, where its slot is not -1, else ``ends[row]``. ``one`` is the new thing
    as a row; ``next_s`` and ``next_t`` are the rows that follow it at its station and with its
    technician (-1: none). ``allow`` (rows, 3) and ``mine`` (3) say how many draws may break each
    promise. ``work`` (rows + 1, draws) and ``changed`` (rows + 1) are overwritten. Returns the
    draws in which the new thing waits too long, or -1 where some promise would be broken.
    """
    m = rows.shape[0]
    idle = np.full(pool.shape[2], IDLE, dtype=np.float32)
    changed[: m + 1] = False
    changed[m] = True
    a, b = ready(one[2], idle, ends, extra, slot), ready(one[3], idle, ends, extra, slot)
    mine_waits, _ = step(one, a, b, pool, wait, idle, work[m])
    if mine_waits > mine[0] or not kept(one, work[m], late, mine):
        return -1
    for at in range(place, order.shape[0]):
        k = order[at]
        s = m if k == next_s else rows[k, 2]
        t = m if k == next_t else rows[k, 3]
        is_s, is_t = s >= 0 and changed[s], t >= 0 and changed[t]
        if not (is_s or is_t):
            continue
        a = work[s] if is_s else ready(s, idle, ends, extra, slot)
        b = work[t] if is_t else ready(t, idle, ends, extra, slot)
        old = ready(k, idle, ends, extra, slot)
        waits, differs = step(rows[k], a, b, pool, wait, old, work[k])
        if waits > allow[k, 0] or not kept(rows[k], work[k], late, allow[k]):
            return -1
        changed[k] = differs != 0
    return int(mine_waits)
