"""A planning run from network to checked plan: the stages, in order."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from planner.engine.booking.allocate.ascent import Ascent, ascend, evaluate
from planner.engine.booking.allocate.capacity import Capacity, build_capacity
from planner.engine.booking.allocate.linear import Allocation, reduced_costs, solve_allocation
from planner.engine.booking.allocate.options import Options as Choices
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.care import place_care
from planner.engine.booking.draft import Draft
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.mend import mend
from planner.engine.booking.moves import Mover
from planner.engine.booking.parts import bookings_of, breaks_of, care_of, moved_of
from planner.engine.booking.prices import prices_of
from planner.engine.booking.problem import Problem, build_problem
from planner.engine.booking.pushback import cost_of, push_back, trade
from planner.engine.booking.reasons import Explainer
from planner.engine.booking.rounding import first_demands, round_shares
from planner.engine.booking.tasks import Crew, Task
from planner.engine.booking.timetable.day import Demand, Packer, Timetable
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.booking.watch import (
    DEFAULT_SECONDS,
    Interrupted,
    Options,
    Progress,
    Quiet,
    Watch,
)
from planner.engine.errors import Fault, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.sessions.planned import planned_minutes
from planner.engine.verify import verify

DRAWS = 1024
GUARD = 0.5
STRICT_DRAWS = 8192
STRICT_GUARD = 3.0
JUDGE_DRAWS = 16_384
ROUNDS = 800
"""Evaluations of the dual ascent."""
PACKS_A_UNIT = 1000
"""List schedules that one unit of ``--effort`` buys for trading places."""
CHECK_DRAWS = 10_000
SHARE_FOR_LINEAR = 0.4


@dataclass(slots=True)
class Run:
    """The state of a run: what was asked, what has been found, and how long it took."""

    network: Network
    options: Options
    watch: Watch
    clock: Callable[[], float]
    seconds: dict[str, float] = field(default_factory=dict)
    began: float = 0.0
    stage: str = ""
    stage_began: float = 0.0
    bound: float | None = None
    cost: float | None = None
    booked: int | None = None

    def enter(self, stage: str, detail: str = "") -> None:
        """Begin a stage and say so."""
        now = self.clock()
        if self.stage:
            self.seconds[self.stage] = round(now - self.stage_began, 3)
        self.stage, self.stage_began = stage, now
        if stage:
            self.tell(detail)

    def tell(self, detail: str = "") -> None:
        """Report where the run stands."""
        gap = None
        if self.cost is not None and self.bound:
            gap = (self.cost - self.bound) / self.bound
        self.watch.report(
            Progress(self.stage, self.cost, self.bound, gap, self.booked, detail,
                     self.clock() - self.began)
        )  # fmt: skip

    def left(self) -> float:
        """Seconds of the wall-clock budget that are left; endless under ``effort``."""
        if self.options.effort is not None:
            return math.inf
        budget = self.options.seconds if self.options.seconds is not None else DEFAULT_SECONDS
        return budget - (self.clock() - self.began)

    def ended(self) -> bool:
        """Whether the caller asked to end, or the time is up."""
        return self.watch.stopped() or self.left() <= 0


def plan(
    network: Network,
    options: Options,
    watch: Watch | None = None,
    clock: Callable[[], float] = time.monotonic,
) -> Plan:
    """Plan a network: the checked plan of least cost found within the budget.

    Parameters
    ----------
    network
        What to plan; sound by construction.
    options
        Budget, seed and processes.
    watch
        Hears the progress and may end the run.
    clock
        Seconds, rising; read for the budget and the report only.

    Raises
    ------
    NetworkImpossible
        Where fixed appointments or care exclude each other.
    Interrupted
        Where the watch ended the run before there was a plan.
    PlanUnsound
        Where the plan failed its check: a fault of the program.
    """
    run = Run(network, options, watch or Quiet(), clock, began=clock())
    run.enter("lengths")
    check_fixed(network)
    lengths = {
        profile.id: planned_minutes(profile, network.policy, network.grain)
        for profile in network.profiles
    }
    problem = build_problem(network, lengths)
    choices, capacity, allocation = _allocate(run, problem)
    draft, mover, strict = _timetables(run, problem, choices, allocation)
    reduced = reduced_costs(choices, capacity, allocation.prices)
    _improve(run, draft, mover, reduced)
    run.enter("mend")
    p_wait = mend(mover, strict, draw_pool(network, draws=JUDGE_DRAWS, seed=options.seed + 2))
    _score(run, draft)
    run.enter("reasons")
    unbooked = Explainer(draft, mover.packer, reduced).all()
    bookings = bookings_of(draft, p_wait)
    objective = draft.cost()
    bound = min(run.bound or 0.0, objective)
    found = Plan(
        bookings=bookings,
        care=care_of(draft),
        care_unplaced=(),
        breaks=breaks_of(draft),
        unbooked=unbooked,
        moved=moved_of(draft, bookings),
        lengths=lengths,
        objective=round(objective, 6),
        bound=bound,
        gap=(round(objective, 6) - bound) / bound if bound > 0 else None,
        prices=prices_of(problem, capacity, allocation.prices),
        seconds=run.seconds,
    )
    run.enter("check")
    _check(network, found, options.seed)
    run.enter("")
    return found


def _allocate(run: Run, problem: Problem) -> tuple[Choices, Capacity, Allocation]:
    """Level 1: options, rows, ascent, and the exact program as far as time allows."""
    run.enter("options")
    choices = build_options(problem)
    capacity = build_capacity(problem, choices)
    _stop_before_plan(run)
    run.enter("ascent", f"{len(choices.cost)} options, {len(capacity.cap)} rows")
    ascent = ascend(choices, capacity, rounds=ROUNDS)
    constant = Draft(problem, choices, np.zeros(0, dtype=np.int64), []).fixed_cost
    run.bound = _floor(ascent.bound + constant)
    _stop_before_plan(run)
    run.enter("program")
    until = run.left() * (1 - SHARE_FOR_LINEAR)
    seconds = min(run.left() * SHARE_FOR_LINEAR, 1e6)
    allocation = solve_allocation(
        choices, capacity, ascent,
        seconds=max(seconds, 0.1), left=lambda: run.left() - until if run.left() < 1e9 else 1.0,
    )  # fmt: skip
    if not allocation.share:
        allocation = _from_ascent(choices, capacity, ascent)
    run.bound = _floor(allocation.bound + constant)
    run.tell("exact" if allocation.exact else "ended early: the bound is proven, not the optimum")
    return choices, capacity, allocation


def _from_ascent(choices: Choices, capacity: Capacity, ascent: Ascent) -> Allocation:
    """Where no program was solved in time: each request's cheapest option under the prices."""
    _, _, chosen = evaluate(choices, capacity, ascent.prices)
    share = {int(option): 1.0 for option in chosen[chosen >= 0]}
    return Allocation(share, ascent.prices, ascent.bound, False, 0)


def _timetables(
    run: Run, problem: Problem, choices: Choices, allocation: Allocation
) -> tuple[Draft, Mover, Packer]:
    """Level 2: round, place care, pack every site-day, push back what does not fit."""
    run.enter("care", f"{len(problem.network.care)} to place")
    care = place_care(problem, choices, allocation)
    draft = round_shares(problem, choices, allocation)
    seed = run.options.seed
    packer = Packer(problem, draw_pool(problem.network, draws=DRAWS, seed=seed), GUARD, seed)
    strict_pool = draw_pool(problem.network, draws=STRICT_DRAWS, seed=seed + 1)
    strict = Packer(problem, strict_pool, STRICT_GUARD, seed + 1)
    _stop_before_plan(run)
    run.enter("timetable", f"{len(problem.sitedays)} site-days")
    queue = _pack_all(run, draft, packer, first_demands(draft, care))
    mover = Mover(draft, packer, seed)
    run.enter("push back", f"{len(queue)} found no room at first")
    push_back(mover, queue, run.ended)
    _score(run, draft)
    run.tell()
    return draft, mover, strict


def _pack_all(run: Run, draft: Draft, packer: Packer, demands: list[Demand]) -> list[int]:
    """Pack every site-day; returns the requests that found no place."""
    trials, effort = 8, 0.0
    tasks = []
    for g, demand in enumerate(demands):
        worth = tuple(
            draft.saving(job.request, int(draft.place[job.request])) for job in demand.jobs
        )
        tasks.append(Task(g, demand, worth, run.options.seed, trials, effort))
    crew = Crew(packer, run.options.workers if len(tasks) > 1 else 1)
    try:
        for timetable in crew.run(tasks):
            _settle(draft, timetable)
    finally:
        crew.close()
    placed = {slot.job.request for day in draft.days for slot in day.slots}
    placed |= {block.request for day in draft.days for block in day.pinned}
    requests = range(len(run.network.requests))
    draft.place[[r for r in requests if r not in placed]] = -1
    return [r for r in requests if draft.place[r] < 0 and r not in draft.problem.fixed_of]


def _settle(draft: Draft, timetable: Timetable) -> None:
    """Put a packed day in force without what it could not hold."""
    draft.set_day(timetable)


def _improve(run: Run, draft: Draft, mover: Mover, reduced: np.ndarray[tuple[int], np.dtype[np.float64]]) -> None:
    """Trade places while that saves cost, dearest regret first, until nothing moves."""
    run.enter("trade")
    options = draft.options
    packs = math.inf
    if run.options.effort is not None:
        packs = mover.spent + run.options.effort * PACKS_A_UNIT
    last = run.clock()
    while not run.ended() and mover.spent < packs:
        regrets = []
        for r in range(len(run.network.requests)):
            if options.first[r] < options.first[r + 1]:
                regret = cost_of(mover, r) - float(options.cost[options.first[r]])
                if regret > 1e-9:
                    regrets.append((-regret, r))
        regrets.sort()
        saved = 0.0
        for _, r in regrets:
            if run.ended() or mover.spent >= packs:
                break
            saved += trade(mover, r, reduced)
            if run.clock() - last > 1.0:
                last = run.clock()
                _score(run, draft)
                run.tell()
        if saved < 1e-6:
            break
    _score(run, draft)
    run.tell(f"{mover.spent} list schedules")


def _score(run: Run, draft: Draft) -> None:
    run.cost, run.booked = draft.cost(), draft.booked()


def _stop_before_plan(run: Run) -> None:
    if run.watch.stopped():
        raise Interrupted


def _floor(bound: float) -> float:
    """A bound with a hair taken off for floating point; costs are never below 0."""
    return max(0.0, math.floor((bound - 1e-7 * abs(bound)) * 1e6) / 1e6)


def _check(network: Network, found: Plan, seed: int) -> None:
    breaches = verify(network, found, draws=CHECK_DRAWS, seed=seed + 2)
    if breaches:
        raise PlanUnsound(
            [
                Fault(f"rule {item.rule}", item.detail, "this is a fault of the program: report it")
                for item in breaches
            ]
        )
