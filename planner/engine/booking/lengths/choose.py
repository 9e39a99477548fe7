"""Which table of lengths a run works with: the longest lengths that cost next to nothing more.

Shorter lengths hold more people and let each wait a little longer, within the promises. Where
room is scarce they pay; where it is not, nobody should wait for nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.lengths.fill import sampled_days, share_filled
from planner.engine.booking.lengths.practice import in_practice
from planner.engine.booking.lengths.tables import Table
from planner.engine.booking.problem import Problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.pool import draw_pool

Floats = NDArray[np.float64]

REACHED = 0.98
"""The share of the sample's fill that a whole plan reaches: people ask for certain days."""
NOTHING = 0.002
"""Costs within this share of the best are taken as alike."""
STAGES = 4
DRAWS = 1024


@dataclass(frozen=True, slots=True)
class Trial:
    """A table, and the share of the room that sessions fill under it (0: not known)."""

    table: Table
    share: float


@dataclass(frozen=True, slots=True)
class Expected:
    """What the allocation costs at a share, what all room is worth at its prices, and these."""

    cost: float
    worth: float
    prices: Floats


def try_tables(
    problem: Problem, options: Options, tables: list[Table], *, guard: float, seed: int
) -> list[Trial]:
    """How full days get under every table; ``problem`` and ``options`` are those of the first."""
    days = sampled_days(problem, options, seed)
    pool = draw_pool(problem.network, draws=DRAWS, seed=seed)
    trials = []
    for table in tables:
        tried = with_lengths(problem, table)
        share = share_filled(tried, options, Packer(tried, pool, guard, seed), days)
        trials.append(Trial(table, REACHED * share))
    return trials


def choose(
    trials: list[Trial], expect: Callable[[float, Expected | None], Expected]
) -> tuple[Trial, Expected | None]:
    """The first trial, so the longest lengths, whose cost is next to the least; and that cost.

    ``expect`` gives the cost at a share, starting from what is known of another. The cost is convex
    in the logarithm of the share, so its tangent at the fullest trial rules most others out
    without a further solution.
    """
    if not all(trial.share for trial in trials):
        return Trial(trials[0].table, 0.0), None
    fullest = max(trials, key=lambda trial: trial.share)
    best = expect(fullest.share, None)
    limit = best.cost + NOTHING * abs(best.cost) + 1e-9
    for trial in trials:
        if trial is fullest:
            break
        if best.cost + best.worth * math.log(fullest.share / trial.share) > limit:
            continue
        found = expect(trial.share, best)
        if found.cost <= limit:
            return trial, found
    return fullest, best


def expected(
    problem: Problem, options: Options, capacity: Capacity, threads: int
) -> Callable[[float, Expected | None], Expected]:
    """What the allocation costs at a share of the room; compared, not reported."""

    def at(share: float, near: Expected | None) -> Expected:
        ascent = ascend(
            in_practice(problem, options, share),
            capacity,
            stages=STAGES,
            start=None if near is None else near.prices,
            first=0 if near is None else 1,
            threads=threads,
        )
        return Expected(ascent.bound, float(np.sum(ascent.prices * capacity.cap)), ascent.prices)

    return at


def with_lengths(problem: Problem, table: Table) -> Problem:
    """The problem under another table of lengths."""
    minutes = [table.minutes[profile.id] for profile in problem.network.profiles]
    return replace(problem, lengths=np.array(minutes, dtype=np.int32))
