"""The rule of the day over one date of all sites, compiled: how often each thing is too late."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.timetable.vectors import finish, finish_drawn, over, over_pair
from planner.engine.compiled import compiled

Ints = NDArray[np.int32]
Pool = NDArray[np.float32]

NEVER = 1 << 20


@compiled
def run_date(things: Ints, pool: Pool, ready: Pool, wait: int, late: int, counts: Ints) -> None:
    """Run the things of one date in order.

    Arguments, with shapes:

    things : (things, 8)
        own time, minutes, place in ``ready`` of the station and of the technician (-1: none),
        profile (-1: certain minutes), number of its vector, station limit, shift limit
        (`NEVER` where there is none); minutes past the date's midnight, by planned start.
    pool : (profiles, vectors, draws)
    ready : (stations and technicians, draws), changed
        When each is ready; carried from date to date by the caller.
    wait, late
        Minutes of the two promises.
    counts : (things, 3), out
        Draws that wait too long, that end too late for the station, and for the shift.
    """
    vectors, draws = pool.shape[1], pool.shape[2]
    ends = np.empty(draws, dtype=np.float32)
    for k in range(things.shape[0]):
        s, t = things[k, 2], things[k, 3]
        a = ready[s] if s >= 0 else ready[t]
        b = ready[t] if t >= 0 else a
        own, profile, number = things[k, 0], things[k, 4], things[k, 5]
        counts[k, 0] = over_pair(a, b, own + wait)
        if profile >= 0:
            turn = (number // vectors * 997) % draws
            finish_drawn(a, b, own, pool[profile, number % vectors], turn, ends)
        else:
            finish(a, b, own, things[k, 1], ends)
        if s >= 0:
            ready[s, :] = ends
        if t >= 0:
            ready[t, :] = ends
        counts[k, 1] = over(ends, things[k, 6] + late) if things[k, 6] < NEVER else 0
        counts[k, 2] = over(ends, things[k, 7] + late) if things[k, 7] < NEVER else 0
