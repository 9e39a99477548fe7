"""How full a day gets under a table of lengths: a sample of site-days, asked to hold too much."""

from __future__ import annotations

from math import inf

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.rows import free_minutes, joint_row
from planner.engine.booking.problem import Problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job
from planner.engine.rng import stream
from planner.engine.sessions.length import session_length

Longs = NDArray[np.int64]

SAMPLE = 16
"""Site-days that are packed."""
TRIALS = 4
LARGEST = 2500
"""Site-days with more minutes than this are sampled only where no smaller one is full: they take
longest and say the same."""
FEW = 2
"""So many of these are packed."""
ASKED = 1.35
"""Minutes of room that are asked for, over those there are."""
DAY_PART = 2


def sampled_days(problem: Problem, options: Options, seed: int) -> list[tuple[int, Longs]]:
    """Site-days to pack, each with the options of those who ask for a place, in an order of chance.

    Only days on which more is asked for than there is room can say how full a day gets.
    """
    return _full(problem, options, seed, LARGEST, SAMPLE) or _full(problem, options, seed, inf, FEW)


def _full(
    problem: Problem, options: Options, seed: int, largest: float, most: int
) -> list[tuple[int, Longs]]:
    """At most ``most`` full days of up to ``largest`` minutes, as `sampled_days` gives them."""
    rng = stream(seed, "lengths")
    people = int(options.first[len(problem.network.requests)])
    order = np.argsort(options.siteday[:people], kind="stable")
    cuts = np.searchsorted(options.siteday[order], np.arange(1, len(problem.sitedays)))
    found: list[tuple[int, Longs]] = []
    parts = np.split(order, cuts)
    for g in rng.permutation(len(problem.sitedays)).tolist():
        if len(found) == most:
            break
        room = _room(problem, g)
        asking = rng.permutation(parts[g])
        _, once = np.unique(options.request[asking], return_index=True)
        asking = asking[np.sort(once)]
        upto = np.cumsum(options.minutes[asking])
        if 0 < room <= largest and len(upto) and upto[-1] >= ASKED * room:
            enough = int(np.searchsorted(upto, ASKED * room)) + 1
            found.append((g, np.asarray(asking[:enough], dtype=np.int64)))
    return found


def share_filled(
    problem: Problem, options: Options, packer: Packer, days: list[tuple[int, Longs]]
) -> float:
    """Session minutes (no-shows as 0) over room on full days, under ``problem``'s lengths; or 0."""
    means = [session_length(profile).mean_booked for profile in problem.network.profiles]
    filled, room = 0.0, 0.0
    for g, asking in days:
        jobs = tuple(
            Job(
                int(options.request[o]),
                int(options.profile[o]),
                int(problem.lengths[options.profile[o]]),
            )
            for o in asking.tolist()
        )
        worth = [means[job.profile] for job in jobs]
        found = packer.pack(
            problem.sitedays[g], Demand(jobs, (), ()), trials=TRIALS, seed=packer.seed, worth=worth
        )
        filled += sum(means[slot.job.profile] for slot in found.slots)
        room += _room(problem, g)
    return filled / room if room else 0.0


def _room(problem: Problem, g: int) -> float:
    siteday = problem.sitedays[g]
    return float(joint_row(siteday, free_minutes(siteday), DAY_PART, 0).minutes)
