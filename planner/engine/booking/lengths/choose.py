"""Which table of lengths a run works with: the longest lengths that cost next to nothing more.

Shorter lengths hold more people and let each wait a little longer, within the promises. Where
room is scarce they pay; where it is not, nobody should wait for nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.lengths.fill import sampled_days, share_filled
from planner.engine.booking.lengths.practice import in_practice
from planner.engine.booking.lengths.tables import Table
from planner.engine.booking.problem import Problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.pool import draw_pool

REACHED = 0.98
"""The share of the sample's fill that a whole plan reaches: people ask for certain days."""
NOTHING = 0.002
"""Costs within this share of the best are taken as alike."""
STAGES = 4
DRAWS = 1024


@dataclass(frozen=True, slots=True)
class Trial:
    """A table, the share of the room that sessions fill under it, and the cost to expect."""

    table: Table
    share: float
    cost: float


def try_tables(
    problem: Problem, options: Options, capacity: Capacity, tables: list[Table], *,
    guard: float, seed: int,
) -> list[Trial]:  # fmt: skip
    """Measure every table; ``problem`` and ``options`` are those of the first.

    The cost to expect is the allocation's, with what sessions take in practice; it is compared, not
    reported.
    """
    days = sampled_days(problem, options, seed)
    pool = draw_pool(problem.network, draws=DRAWS, seed=seed)
    trials: list[Trial] = []
    prices = None
    for table in tables:
        tried = with_lengths(problem, table)
        share = REACHED * share_filled(tried, options, Packer(tried, pool, guard, seed), days)
        if not share:
            return [Trial(tables[0], 0.0, 0.0)]
        ascent = ascend(
            in_practice(problem, options, share),
            capacity,
            stages=STAGES,
            start=prices,
            first=0 if prices is None else 1,
        )
        prices = ascent.prices
        trials.append(Trial(table, share, ascent.bound))
    return trials


def choose(trials: list[Trial]) -> Trial:
    """The first trial, so the longest lengths, whose cost is next to the least."""
    least = min(trial.cost for trial in trials)
    return next(trial for trial in trials if trial.cost <= least + NOTHING * abs(least) + 1e-9)


def with_lengths(problem: Problem, table: Table) -> Problem:
    """The problem under another table of lengths."""
    minutes = [table.minutes[profile.id] for profile in problem.network.profiles]
    return replace(problem, lengths=np.array(minutes, dtype=np.int32))
