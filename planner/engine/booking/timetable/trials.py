"""Many list schedules of one site-day, compiled: the one that places most value is kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.pack import pack
from planner.engine.compiled import compiled
from planner.engine.units import DAY

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Pool = NDArray[np.float32]

LAST = 4.0 * DAY
"""Minutes of urgency that a job loses when it is put off behind all others."""
TRADE = 0.7
"""How often those left out trade their urgency with those placed."""
LOUDEST, LEAST = 4, 16
"""Of so many drawn, who is left out and worth most, and who is placed and worth least, trade."""
ANEW = 8
"""At most one in so many jobs is drawn anew at a time."""
REST = 0.3
"""How often a break is wanted at another time."""


@compiled
def sort_kinds(jobs: Ints, windows: Ints, kind: Ints) -> Ints:
    """Sort jobs (as in `pack`) into kinds that ask for the same, but for their profile.

    ``kind`` gets the kind of each job. Returns, by kind: minutes, feature class, skill class, first
    window, last window + 1, whether it counts against the reserve.
    """
    kinds = np.empty((jobs.shape[0], 6), dtype=np.int32)
    known = 0
    for j in range(jobs.shape[0]):
        low, many = jobs[j, 4], jobs[j, 5] - jobs[j, 4]
        for q in range(known):
            same = kinds[q, 0] == jobs[j, 0] and kinds[q, 1] == jobs[j, 2]
            same = same and kinds[q, 2] == jobs[j, 3] and kinds[q, 5] == jobs[j, 6]
            same = same and kinds[q, 4] - kinds[q, 3] == many
            for k in range(many if same else 0):
                other = kinds[q, 3] + k
                same = same and windows[low + k, 0] == windows[other, 0]
                same = same and windows[low + k, 1] == windows[other, 1]
            if same:
                kind[j] = q
                break
        else:
            kind[j] = known
            kinds[known, 0] = jobs[j, 0]
            for column in range(1, 6):
                kinds[known, column] = jobs[j, column + 1]
            known += 1
    return kinds[:known]


@compiled
def most_first(jobs: Ints, worth: Floats, placed: Ints, order: Floats) -> None:
    """Put off the jobs of least worth a minute, as many minutes as ``placed`` left out."""
    room = 0
    for j in range(jobs.shape[0]):
        if placed[j, 0] >= 0:
            room += jobs[j, 0]
    for j in np.argsort(-worth / jobs[:, 0], kind="mergesort"):
        if room >= jobs[j, 0]:
            room -= jobs[j, 0]
        else:
            order[j] += LAST


@compiled
def pick(jobs: Ints, worth: Floats, placed: Ints, out: int, times: int) -> int:
    """Of some jobs drawn by chance one: of those left out (``out`` 1) that of most worth a minute.

    Of those placed (``out`` 0) that of least. There has to be one.
    """
    best, most = -1, 0.0
    for _ in range(times):
        j = np.random.randint(0, jobs.shape[0])
        while (placed[j, 0] < 0) != (out == 1):
            j = (j + 1) % jobs.shape[0]
        value = worth[j] / jobs[j, 0] if out else -worth[j] / jobs[j, 0]
        if best < 0 or value > most:
            best, most = j, value
    return best


@compiled
def vary(
    jobs: Ints, keys: Floats, worth: Floats, placed: Ints, order: Floats, breaks: Ints, noise: float
) -> None:
    """Change an order that gave ``placed``, and the breaks that it wants, a little.

    Mostly, one or two that were left out trade their urgency with some that were placed (squeaky
    wheels: Joslin and Clements 1999, doi:10.1613/jair.561; from memory); else a few jobs are drawn
    anew around their keys.
    """
    many, left = jobs.shape[0], 0
    for j in range(many):
        left += placed[j, 0] < 0
    if 0 < left < many and np.random.random() < TRADE:
        for _ in range(np.random.randint(1, 3)):
            a = pick(jobs, worth, placed, 1, LOUDEST)
            b = pick(jobs, worth, placed, 0, LEAST)
            order[a], order[b] = order[b], order[a]
    else:
        for _ in range(np.random.randint(1, max(3, many // ANEW + 1))):
            j = np.random.randint(0, many)
            order[j] = keys[j] + np.random.normal(0.0, noise)
    if np.random.random() < REST:
        w = np.random.randint(0, breaks.shape[0])
        if breaks[w, 2] > breaks[w, 1]:
            breaks[w, 3] = np.random.randint(breaks[w, 1], breaks[w, 2] + 1)


@compiled
def pack_trials(
    station_run: Ints, worker_run: Ints, station_ok: Bools, worker_ok: Bools,
    blocks: Ints, jobs: Ints, windows: Ints, keys: Floats, breaks: Ints, pool: Pool,
    rules: Ints, worth: Floats, trials: int, noise: float, seed: int, placed: Ints, rests: Ints,
) -> int:  # fmt: skip
    """Pack in up to ``trials`` orders; arguments as `pack`, and ``worth`` of each job placed.

    The first order is that of ``keys``, the second puts off those of least worth a minute; then the
    best order so far is varied, with ``noise`` minutes of chance. Ends early where everybody is
    placed. ``placed`` and ``rests`` get the best schedule; returns 1 where that keeps every break
    and pinned promise, else 0.
    """
    np.random.seed(seed)
    kind = np.empty(jobs.shape[0], dtype=np.int32)
    kinds = sort_kinds(jobs, windows, kind)
    total, alike = worth.sum(), True
    for j in range(1, worth.shape[0]):
        alike = alike and worth[j] * jobs[0, 0] == worth[0] * jobs[j, 0]
    best, sound = -1.0, 0
    order_kept, breaks_kept = keys, breaks
    tried = np.empty_like(placed)
    slept = np.empty_like(rests)
    for trial in range(trials):
        order, wanted, standing = order_kept.copy(), breaks_kept.copy(), blocks.copy()
        if trial == 1 and not alike:
            most_first(jobs, worth, placed, order)
        elif trial > 0:
            vary(jobs, keys, worth, placed, order, wanted, noise)
        count = pack(
            station_run, worker_run, station_ok, worker_ok, standing, jobs, windows, kind, kinds,
            order, wanted, pool, rules, tried, slept,
        )  # fmt: skip
        good = 1 if count >= 0 else 0
        for k in range(standing.shape[0]):
            if standing[k, 6] == 2:
                good = 0
        value = 0.0
        for j in range(tried.shape[0]):
            if tried[j, 0] >= 0:
                value += worth[j]
        if trial == 0 or good > sound or (good == sound and value > best - 1e-9):
            best, sound = value, good
            placed[:, :] = tried
            rests[:] = slept
            order_kept, breaks_kept = order, wanted
            if sound == 1 and best >= total - 1e-9:
                break
    return sound
