"""The list schedule of one site-day, forward in time, keeping both promises as it goes.

The worker who is free first takes the most pressing job that fits: between what stands at a
fixed time, before the last moment for the break, and at the first told time that keeps the
waiting promise under the rule of the day (MODEL.md, rule of the day). Draws run along, so
a day comes out with its promises kept on the draws used.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.vectors import (
    finish,
    finish_drawn,
    least_told,
    over,
    over_pair,
)
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Pool = NDArray[np.float32]

FAR = 1 << 20
PATIENCE = 5
"""Minutes that a worker may stand and wait for a job that cannot start yet."""
SOUGHT = 5.0
"""What a job without needs pays, in minutes of urgency, for a station that others need."""
GAP = 120
"""A gap of at most so many minutes before something that stands is filled with care."""
WASTE = 20.0
"""What a minute that cannot be filled any more costs, in minutes of urgency."""
NEAR = 90
"""A limit further than this many minutes from a planned end is not at risk: it is not counted."""


@compiled
def next_block(blocks: Ints, column: int, thing: int, first: int) -> int:
    """The place of the next block of a station (column 2) or worker (column 3), or -1."""
    for k in range(first, blocks.shape[0]):
        if blocks[k, column] == thing:
            return k
    return -1


@compiled
def window_start(windows: Ints, low: int, high: int, start: int) -> int:
    """The first start at or after ``start`` inside one of the windows, or FAR."""
    best = FAR
    for k in range(low, high):
        if windows[k, 1] > start:
            best = min(best, max(start, windows[k, 0]))
    return best


@compiled
def fill_table(
    kinds: Ints, heads: Ints, windows: Ints, station_able: Bools, worker_able: Bools,
    first: int, gap: int, best: Ints,
) -> None:  # fmt: skip
    """For each gap up to ``gap``: the most minutes of it that whole waiting jobs can fill.

    Kinds with a job waiting that may start at ``first`` count, each length as often as it is wanted
    (a subset sum over the distinct lengths; a relaxation, since there are only so many of each).
    """
    lengths = np.empty(gap + 1, dtype=np.int32)
    known = 0
    for q in range(kinds.shape[0]):
        minutes = kinds[q, 0]
        if heads[q] < 0 or minutes > gap:
            continue
        if not station_able[kinds[q, 1]] or not worker_able[kinds[q, 2]]:
            continue
        new = True
        for k in range(known):
            if lengths[k] == minutes:
                new = False
                break
        if new and window_start(windows, kinds[q, 3], kinds[q, 4], first) - first <= PATIENCE:
            lengths[known] = minutes
            known += 1
    best[0] = 0
    for room in range(1, gap + 1):
        best[room] = best[room - 1]
        for k in range(known):
            short = room - lengths[k]
            if short >= 0 and best[short] == short:
                best[room] = room
                break


@compiled
def queue_up(kind: Ints, order: NDArray[np.int64], heads: Ints, follows: Ints) -> None:
    """Queue the jobs of each kind in ``order``: heads by kind, who follows by job (-1: nobody)."""
    heads[:] = -1
    for k in range(order.shape[0] - 1, -1, -1):
        j = order[k]
        follows[j] = heads[kind[j]]
        heads[kind[j]] = j


@compiled
def hand_over(row: Ints, uses: Ints, thing: int, new: int) -> None:
    """Let a thing be ready by row ``new``; ``row`` by thing, ``uses`` by row."""
    uses[row[thing]] -= 1
    uses[new] += 1
    row[thing] = new


@compiled
def unused(uses: Ints) -> int:
    """A row that nobody uses; with one row more than things there is one."""
    for k in range(uses.shape[0]):
        if uses[k] == 0:
            return k
    return -1


@compiled
def pack(  # noqa: PLR0912, PLR0915 - one event loop, kept whole for the compiler
    station_run: Ints, worker_run: Ints, station_ok: Bools, worker_ok: Bools,
    blocks: Ints, jobs: Ints, windows: Ints, kind: Ints, kinds: Ints, keys: NDArray[np.float64],
    breaks: Ints, pool: Pool, rules: Ints, placed: Ints, rests: Ints,
) -> int:  # fmt: skip
    """Place jobs; returns how many were placed, or -1 - w where worker w's break finds no place.

    Of the jobs of one kind the most pressing goes first, so kinds are compared and not jobs.

    Arguments, with shapes:

    station_run, worker_run : (stations, 1441), (workers, 1441)
        Minutes free from each minute on.
    station_ok, worker_ok : (feature classes, stations), (skill classes, workers)
    blocks : (blocks, 7), sorted by start
        start, minutes, station or -1, worker or -1, profile or -1, own time, promised: 1 where
        the waiting promise holds for it (set to 2 where it is broken), 3 where no job may break it
        but the schedule stands if it is broken all the same.
    jobs : (jobs, 7)
        minutes, profile, feature class, skill class, first window, last window + 1, counts
        against the reserve.
    windows : (windows, 2)
        Starts allowed, half-open.
    kind, kinds : (jobs,), (kinds, 6)
        Jobs that ask for the same, but for their profile: as from `sort_kinds`.
    keys : (jobs,)
        The smaller, the sooner.
    breaks : (workers, 5)
        minutes (0: none), first start, last start, wanted start, shift end.
    pool : (profiles, vectors, draws)
    rules : (8,)
        wait minutes, draws that may wait longer, overtime minutes, draws that may run over,
        closing time, grain, minutes that may count against the reserve, the longest gap that is
        filled with care (at most `GAP`; 0: jobs keep their order).
    placed : (jobs, 3), out
        start, station, worker; -1 where not placed.
    rests : (workers,), out
        Start of each break, -1 where none.
    """
    wait, may_wait, late, may_late = rules[0], rules[1], rules[2], rules[3]
    close, grain, plain_left = rules[4], rules[5], rules[6]
    n_stations, n_workers, n_jobs = station_run.shape[0], worker_run.shape[0], jobs.shape[0]
    draws, vectors = pool.shape[2], pool.shape[1]
    ready = np.empty((n_stations + n_workers + 1, draws), dtype=np.float32)
    ready[0, :] = -1.0
    row = np.zeros(n_stations + n_workers, dtype=np.int32)
    uses = np.zeros(n_stations + n_workers + 1, dtype=np.int32)
    uses[0] = n_stations + n_workers
    new = 1
    fill = np.zeros(GAP + 1, dtype=np.int32)
    free_s = np.zeros(n_stations, dtype=np.int32)
    free_w = np.zeros(n_workers, dtype=np.int32)
    told_s = np.zeros(n_stations, dtype=np.int32)
    told_w = np.zeros(n_workers, dtype=np.int32)
    longest = np.full(n_workers, FAR, dtype=np.int32)
    last_station = np.full(n_workers, -1, dtype=np.int32)
    done = np.zeros(n_workers, dtype=np.bool_)
    pending = breaks[:, 0] > 0
    sought = np.zeros(n_stations, dtype=np.bool_)
    for f in range(1, station_ok.shape[0]):
        for s in range(n_stations):
            sought[s] = sought[s] or station_ok[f, s]
    for w in range(n_workers):
        rests[w] = -1
        for minute in range(worker_run.shape[1]):
            if worker_run[w, minute] > 0:
                free_w[w] = minute
                break
        else:
            done[w] = not pending[w]
    for j in range(n_jobs):
        placed[j, 0] = -1
        placed[j, 1] = -1
        placed[j, 2] = -1
    heads = np.empty(kinds.shape[0], dtype=np.int32)
    follows = np.empty(n_jobs, dtype=np.int32)
    queue_up(kind, np.argsort(keys, kind="mergesort"), heads, follows)
    at, count, left, failed, asking = 0, 0, n_jobs, 0, 0
    for j in range(n_jobs):
        asking += jobs[j, 2] > 0

    while True:
        w, now = -1, FAR
        for k in range(n_workers):
            if not done[k] and free_w[k] < now:
                w, now = k, free_w[k]
        if at < blocks.shape[0] and (blocks[at, 0] <= now or w < 0):
            start, minutes, s, v = blocks[at, 0], blocks[at, 1], blocks[at, 2], blocks[at, 3]
            own = blocks[at, 5]
            a = ready[row[s] if s >= 0 else row[n_stations + v]]
            b = ready[row[n_stations + v]] if v >= 0 else a
            ends = ready[new]
            if blocks[at, 6] == 1 and over_pair(a, b, own + wait) > may_wait:
                blocks[at, 6] = 2
            if blocks[at, 4] >= 0:
                turn = (count // vectors * 37) % draws
                finish_drawn(a, b, own, pool[blocks[at, 4], count % vectors], turn, ends)
                count += 1
            else:
                finish(a, b, own, minutes, ends)
            end = start + minutes
            told = least_told(ends, end - end % grain, grain, wait, may_wait)
            if s >= 0:
                hand_over(row, uses, s, new)
                free_s[s] = max(free_s[s], end)
                told_s[s] = told
            if v >= 0:
                hand_over(row, uses, n_stations + v, new)
                free_w[v] = max(free_w[v], end)
                told_w[v] = told
            new = unused(uses)
            at += 1
            continue
        if w < 0:
            break
        shift_end = breaks[w, 4]
        k = next_block(blocks, 3, w, at)
        block_w = blocks[k, 0] if k >= 0 else FAR
        promise_w = blocks[k, 5] if k >= 0 and blocks[k, 6] > 0 else FAR
        if pending[w] and now >= breaks[w, 1] and now >= breaks[w, 3]:
            if now <= breaks[w, 2] and now + breaks[w, 0] <= block_w:
                mine, ends = ready[row[n_stations + w]], ready[new]
                finish(mine, mine, now, breaks[w, 0], ends)
                hand_over(row, uses, n_stations + w, new)
                new = unused(uses)
                rests[w] = now
                free_w[w] = now + breaks[w, 0]
                end = now + breaks[w, 0]
                told_w[w] = least_told(ends, end - end % grain, grain, wait, may_wait)
                pending[w] = False
            elif block_w < FAR:
                free_w[w] = max(now + 1, block_w)
            else:
                failed = -1 - w
                pending[w] = False
            continue
        if now >= shift_end:
            if pending[w]:
                failed = -1 - w
                pending[w] = False
            done[w] = True
            continue
        limit = min(block_w, shift_end)
        if pending[w] and now < breaks[w, 2]:
            limit = min(limit, breaks[w, 2])

        best_j, best_s, best_start, best_key, soonest = -1, -1, FAR, 0.0, FAR
        if left > 0:
            for k in range(n_stations):
                s = k
                if last_station[w] >= 0:
                    s = last_station[w] if k == 0 else (k - 1 if k <= last_station[w] else k)
                first = max(now, free_s[s], told_s[s], told_w[w])
                while first < limit and station_run[s, first] == 0:
                    first += 1
                if first - now > PATIENCE or first >= limit:
                    soonest = min(soonest, first - PATIENCE)
                    continue
                b = next_block(blocks, 2, s, at)
                block_s = blocks[b, 0] if b >= 0 else FAR
                if b >= 0:
                    soonest = min(soonest, block_s + blocks[b, 1])
                if best_j >= 0 and first >= best_start and not (sought[s] and asking > 0):
                    continue
                end_w = min(block_w, first + worker_run[w, first])
                gap = min(end_w, block_s, first + station_run[s, first]) - first
                tight = 0 < gap <= rules[7]
                if tight:
                    fill_table(
                        kinds, heads, windows, station_ok[:, s], worker_ok[:, w], first, gap, fill
                    )  # fmt: skip
                for q in range(kinds.shape[0]):
                    j, minutes = heads[q], kinds[q, 0]
                    if j < 0 or minutes > longest[w] or (kinds[q, 5] and minutes > plain_left):
                        continue
                    if not station_ok[kinds[q, 1], s] or not worker_ok[kinds[q, 2], w]:
                        continue
                    start = window_start(windows, kinds[q, 3], kinds[q, 4], first)
                    if start - now > PATIENCE:
                        soonest = min(soonest, start - PATIENCE)
                        continue
                    if start > best_start or start + minutes > min(limit, block_s):
                        continue
                    if station_run[s, start] < minutes or worker_run[w, start] < minutes:
                        continue
                    key = keys[j]
                    if kinds[q, 1] == 0 and sought[s]:
                        key += SOUGHT
                    if tight:
                        rest = gap - (start - first) - minutes
                        key += WASTE * (rest - fill[rest] + start - first)
                    if start < best_start or key < best_key:
                        best_j, best_s, best_start, best_key = j, s, start, key
        if best_j < 0:
            longest[w] = FAR
            if pending[w] and now >= breaks[w, 1]:
                breaks[w, 3] = now
            elif pending[w] and breaks[w, 1] + PATIENCE < min(soonest, block_w, breaks[w, 2]):
                free_w[w] = breaks[w, 1]
                breaks[w, 3] = breaks[w, 1]
            elif soonest < limit:
                free_w[w] = max(now + 1, soonest)
            elif pending[w] and block_w > breaks[w, 1]:
                free_w[w] = breaks[w, 1]
                breaks[w, 3] = breaks[w, 1]
            elif block_w < FAR:
                free_w[w] = max(now + 1, block_w)
            else:
                done[w] = True
            continue

        s, start, minutes = best_s, best_start, jobs[best_j, 0]
        told = start - start % grain
        # What is ready by the same row keeps the promise already: `told_s` and `told_w` see to it.
        a, b, ends = ready[row[s]], ready[row[n_stations + w]], ready[new]
        if row[s] != row[n_stations + w] and over_pair(a, b, told + wait) > may_wait:
            free_w[w] = told + grain
            continue
        turn = (count // vectors * 37) % draws
        drawn = pool[jobs[best_j, 1], count % vectors]
        finish_drawn(a, b, told, drawn, turn, ends)
        end = start + minutes
        fits = True
        if end + NEAR > close and over(ends, close + late) > may_late:
            fits = False
        if fits and end + NEAR > shift_end and over(ends, shift_end + late) > may_late:
            fits = False
        if fits and end + NEAR > promise_w:
            fits = over(ends, promise_w + wait) <= may_wait
        b = next_block(blocks, 2, s, at)
        if fits and b >= 0 and blocks[b, 6] > 0 and end + NEAR > blocks[b, 5]:
            fits = over(ends, blocks[b, 5] + wait) <= may_wait
        if not fits:
            longest[w] = minutes - 1
            continue
        longest[w] = FAR
        placed[best_j, 0] = start
        placed[best_j, 1] = s
        placed[best_j, 2] = w
        if jobs[best_j, 6]:
            plain_left -= minutes
        count += 1
        heads[kind[best_j]] = follows[best_j]
        left -= 1
        asking -= jobs[best_j, 2] > 0
        hand_over(row, uses, s, new)
        hand_over(row, uses, n_stations + w, new)
        new = unused(uses)
        free_s[s] = end
        free_w[w] = end
        told = least_told(ends, end - end % grain, grain, wait, may_wait)
        told_s[s] = told
        told_w[w] = told
        last_station[w] = s
    if failed < 0:
        return failed
    return int(n_jobs - left)
