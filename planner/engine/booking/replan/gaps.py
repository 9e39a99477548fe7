"""Compiled: whose booking on a site-day, were it gone, would make room for a request."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled
from planner.engine.units import DAY

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]


@compiled
def makes_room(
    station_run: Ints, worker_run: Ints, stations: Ints, workers: Ints, allowed: Bools,
    minutes: int, blocks: Ints,
) -> Bools:  # fmt: skip
    """For each block, whether a request could start somewhere by the clock, were it not there.

    Only the minutes round the block are looked at, and only pairs with its station or its worker:
    nowhere else does anything come free.

    Arguments, with shapes:

    station_run, worker_run : (stations, 1440), (workers, 1440)
        Minutes from each minute on that they are free.
    stations, workers
        The places of those that the request could have.
    allowed : (1440,)
        The minutes at which it may start.
    minutes
        How many it takes.
    blocks : (bookings, 4)
        Start, minutes, station and worker.
    """
    found = np.zeros(blocks.shape[0], dtype=np.bool_)
    for k in range(blocks.shape[0]):
        station, worker = blocks[k, 2], blocks[k, 3]
        for s in stations:
            if found[k]:
                break
            for w in workers:
                if (s == station or w == worker) and _fits(
                    station_run[s], worker_run[w], allowed, minutes, blocks[k],
                    s == station, w == worker,
                ):  # fmt: skip
                    found[k] = True
                    break
    return found


@compiled
def _fits(
    station: Ints, worker: Ints, allowed: Bools, minutes: int, block: Ints,
    frees_station: bool, frees_worker: bool,
) -> bool:  # fmt: skip
    """Whether a pair has room round a block that frees one of them or both."""
    start, end = block[0], block[0] + block[1]
    streak = 0
    for t in range(max(0, start - minutes + 1), min(DAY, end + minutes - 1)):
        inside = start <= t < end
        if (station[t] > 0 or (inside and frees_station)) and (
            worker[t] > 0 or (inside and frees_worker)
        ):
            streak += 1
            if streak >= minutes and allowed[t - minutes + 1]:
                return True
        else:
            streak = 0
    return False
