"""The stages of a run up to its first plan: allocation and timetables."""

from __future__ import annotations

import math
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.ascent import Ascent, ascend
from planner.engine.booking.allocate.capacity import Capacity, build_capacity
from planner.engine.booking.allocate.linear import Allocation, reduced_costs, solve_allocation
from planner.engine.booking.allocate.options import Options as Choices
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.allocate.windows import with_windows
from planner.engine.booking.care import place_care
from planner.engine.booking.draft import Draft, fixed_cost
from planner.engine.booking.guide import guide
from planner.engine.booking.lengths.choose import (
    Expected,
    Trial,
    choose,
    expected,
    try_tables,
    with_lengths,
)
from planner.engine.booking.lengths.practice import in_practice
from planner.engine.booking.lengths.tables import Table
from planner.engine.booking.level import Level1, Level2
from planner.engine.booking.moves import Mover
from planner.engine.booking.problem import Problem
from planner.engine.booking.pushback import push_back
from planner.engine.booking.rounding import first_demands, round_shares
from planner.engine.booking.state import Run
from planner.engine.booking.tasks import Crew, Task
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.rng import stream

Floats = NDArray[np.float64]

DRAWS = 4096
"""Draws that run along with every list schedule."""
GUARD = 0.7
"""Standard errors by which a list schedule stays below a promise on its draws."""
TRIALS = 16
"""Orders in which a site-day that does not pack at once is tried first."""
PROGRAM_REQUESTS = 20_000
"""Above so many requests the ascent stands alone: GLOP did not solve 50,000 in 100 s."""
NEARLY = 2
"""The temperature from which prices are sought that start near."""
PUSH_SHARE = 0.25
"""Of what is left of the budget, for those who found no room at first; as long as all before it
took in any case, since a plan without is none that anybody would want. Sweeps look for them too."""
PROGRAM_SHARE = 0.4
"""The share of the budget that the exact program may take."""


def allocate(run: Run, problem: Problem, tables: list[Table]) -> Level1:
    """Level 1: options, rows, the table of lengths, ascent, and the exact program in time.

    ``problem`` has the lengths of the first table. The bound is proven for the table chosen; the
    allocation follows what sessions take in practice, where days are full enough to tell.
    """
    run.enter("options")
    choices = build_options(problem)
    capacity = with_windows(problem, choices, build_capacity(problem, choices))
    run.stop_before_plan()
    trial, known = _choose(run, problem, choices, capacity, tables)
    if trial.table is not tables[0]:
        run.enter("options")
        problem = with_lengths(problem, trial.table)
        choices = build_options(problem)
        capacity = with_windows(problem, choices, build_capacity(problem, choices))
        run.stop_before_plan()
    run.enter("ascent", f"{len(choices.cost)} options, {len(capacity.cap)} rows")
    constant = fixed_cost(problem)
    ascent = ascend(choices, capacity, threads=run.threads())
    run.bound = floor(ascent.bound + constant)
    run.stop_before_plan()
    run.enter("program")
    parts = 2 if trial.share else 1
    proven = _program(run, choices, capacity, ascent, PROGRAM_SHARE / parts)
    run.bound = floor(proven.bound + constant)
    run.tell("exact" if proven.exact else "the bound is proven, the optimum is not")
    run.stop_before_plan()
    allocation, held = proven, choices
    if trial.share:
        held = in_practice(problem, choices, trial.share)
        near = _near(known, capacity, proven.prices)
        ascent = ascend(held, capacity, start=near, first=NEARLY, threads=run.threads())
        allocation = _program(run, held, capacity, ascent, PROGRAM_SHARE / parts)
    if not allocation.exact and not allocation.share:
        allocation = _from_ascent(held, ascent, run.options.seed)
    reduced = reduced_costs(held, capacity, allocation.prices)
    return Level1(problem, choices, capacity, allocation, reduced)


def _choose(
    run: Run, problem: Problem, choices: Choices, capacity: Capacity, tables: list[Table]
) -> tuple[Trial, Expected | None]:
    """The table that the run works with, and what is expected of it."""
    run.enter("lengths")
    trials = try_tables(problem, choices, tables, guard=GUARD, seed=run.options.seed)
    run.stop_before_plan()
    found, known = choose(trials, expected(problem, choices, capacity, run.threads()))
    run.tell(f"planned for rows of {found.table.row}")
    return found, known


def _near(known: Expected | None, capacity: Capacity, other: Floats) -> Floats:
    """The prices expected, where the rows are still those they were found for; else ``other``."""
    if known is None or len(known.prices) != len(capacity.cap):
        return other
    return known.prices


def _program(
    run: Run, choices: Choices, capacity: Capacity, ascent: Ascent, share: float
) -> Allocation:
    """The exact program within its share of the budget; the ascent's result where it is too big."""
    if len(run.network.requests) > PROGRAM_REQUESTS:
        return Allocation({}, ascent.prices, ascent.bound, False, 0)
    until = run.left() * (1 - share)

    def left() -> float:
        return 0.0 if run.watch.stopped() else 1.0 if until == math.inf else run.left() - until

    seconds = min(1e6, max(0.1, run.left() * share))
    return solve_allocation(choices, capacity, ascent, seconds=seconds, left=left)


def floor(bound: float) -> float:
    """A bound with a hair taken off for floating point; costs are never below 0."""
    return max(0.0, math.floor((bound - 1e-7 * abs(bound)) * 1e6) / 1e6)


def _from_ascent(choices: Choices, ascent: Ascent, seed: int) -> Allocation:
    """Where no program was solved: each request drawn by how often the ascent chose its options.

    Drawn, not the most frequent: so the load of every site-day is near what the prices balance.
    """
    draws = stream(seed, "shares").random(len(choices.unbooked))
    upto = np.concatenate([[0.0], np.cumsum(ascent.often)])
    target = upto[choices.first[:-1]] + draws
    option = np.searchsorted(upto, target, side="right") - 1
    inside = (option >= choices.first[:-1]) & (option < choices.first[1:])
    share = {int(o): 1.0 for o in option[inside]}
    return Allocation(share, ascent.prices, ascent.bound, False, 0)


@contextmanager
def timetables(run: Run, level: Level1) -> Iterator[Level2]:
    """Level 2: round, place care, pack every site-day, push back what does not fit."""
    problem = level.problem
    run.enter("care", f"{len(problem.network.care)} to place")
    care = place_care(problem, level.choices, level.allocation)
    draft = round_shares(problem, level.choices, level.allocation)
    seed = run.options.seed
    packer = Packer(problem, draw_pool(problem.network, draws=DRAWS, seed=seed), GUARD, seed)
    run.stop_before_plan()
    run.enter("timetable", f"{len(problem.sitedays)} site-days")
    workers = run.options.workers if len(problem.sitedays) > 1 else 1
    crew = Crew(packer, workers)
    hands = ThreadPoolExecutor(crew.size - 1) if crew.size > 1 else None
    try:
        values = guide(level.choices, level.reduced, 0.0)
        mover = Mover(draft, packer, seed, values, hands, crew.size)
        work = Level2(draft, mover, crew, care)
        queue = _pack_all(run, draft, crew, first_demands(draft, care))
        run.score(draft)
        run.enter("push back", f"{len(queue)} found no room at first")
        push_back(mover, queue, run.until(max(PUSH_SHARE * run.left(), run.spent())))
        run.score(draft)
        run.tell()
        yield work
    finally:
        if hands is not None:
            hands.shutdown()
        crew.close()


def _pack_all(run: Run, draft: Draft, crew: Crew, demands: list[Demand]) -> list[int]:
    """Pack every site-day; returns the requests that found no place."""
    tasks = []
    for g, demand in enumerate(demands):
        worth = [draft.saving(job.request, int(draft.place[job.request])) for job in demand.jobs]
        tasks.append(Task(g, demand, tuple(worth), run.options.seed, TRIALS, 0.0))
    for timetable in crew.run(tasks):
        draft.set_day(timetable)
    placed = {slot.job.request for day in draft.days for slot in day.slots}
    placed |= {block.request for day in draft.days for block in day.pinned}
    requests = range(len(run.network.requests))
    draft.place[[r for r in requests if r not in placed]] = -1
    return [r for r in requests if draft.place[r] < 0 and r not in draft.problem.fixed_of]
