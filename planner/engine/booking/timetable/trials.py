"""Many list schedules of one site-day, compiled: the one that places most value is kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.pack import pack
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]
Pool = NDArray[np.float32]


@compiled
def pack_trials(
    station_run: Ints, worker_run: Ints, station_ok: Bools, worker_ok: Bools,
    blocks: Ints, jobs: Ints, windows: Ints, keys: Floats, breaks: Ints, pool: Pool,
    rules: Ints, worth: Floats, trials: int, noise: float, seed: int, placed: Ints, rests: Ints,
) -> int:  # fmt: skip
    """Pack in up to ``trials`` orders; arguments as `pack`, and ``worth`` of each job placed.

    The first order is that of ``keys``; the others shuffle it by normal noise of ``noise``
    minutes and want the breaks at random times. Ends early where everybody is placed. ``placed``
    and ``rests`` get the best schedule; returns 1 where that keeps every break and pinned promise,
    else 0.
    """
    np.random.seed(seed)
    total = worth.sum()
    best, sound = -1.0, 0
    tried = np.empty_like(placed)
    slept = np.empty_like(rests)
    for trial in range(trials):
        order, wanted, standing = keys.copy(), breaks.copy(), blocks.copy()
        if trial > 0:
            for j in range(order.shape[0]):
                order[j] += np.random.normal(0.0, noise)
            for w in range(wanted.shape[0]):
                if wanted[w, 2] > wanted[w, 1]:
                    wanted[w, 3] = np.random.randint(wanted[w, 1], wanted[w, 2] + 1)
        count = pack(
            station_run, worker_run, station_ok, worker_ok, standing, jobs, windows, order, wanted,
            pool, rules, tried, slept,
        )  # fmt: skip
        good = 1 if count >= 0 else 0
        for k in range(standing.shape[0]):
            if standing[k, 6] == 2:
                good = 0
        value = 0.0
        for j in range(tried.shape[0]):
            if tried[j, 0] >= 0:
                value += worth[j]
        if trial == 0 or good > sound or (good == sound and value > best + 1e-9):
            best, sound = value, good
            placed[:, :] = tried
            rests[:] = slept
            if sound == 1 and best >= total - 1e-9:
                break
    return sound
