"""A planning run from network to checked plan: the stages, in order."""

from __future__ import annotations

import time
from collections.abc import Callable

from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.budget import Budget
from planner.engine.booking.estimate import Estimator
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.improve import improve, settle
from planner.engine.booking.lengths.tables import length_tables
from planner.engine.booking.parts import bookings_of, breaks_of, care_of, moved_of
from planner.engine.booking.prices import prices_of
from planner.engine.booking.problem import build_problem
from planner.engine.booking.reasons import Explainer
from planner.engine.booking.stages import allocate, timetables
from planner.engine.booking.state import Run
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.booking.watch import Options, Quiet, Watch
from planner.engine.errors import Fault, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.verify import verify

JUDGE_DRAWS = (16_384, 65_536)
"""Draws that promises are judged on: the more, the nearer to them a plan may go."""
JUDGED = 1 << 29
"""Requests times draws of one judgement; fewer draws are taken beyond."""
JUDGE_VECTORS = 16
"""Vectors of draws for each profile; the sessions of a day turn them."""
CHECK_DRAWS = 4_000
REPORT = "this is a fault of the program: report it with the network file"


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
    run = Run(network, options, watch or Quiet(), clock)
    run.enter("lengths")
    cut = with_breaks_in_shifts(network)
    check_fixed(cut)
    tables = length_tables(network)
    level = allocate(run, build_problem(cut, tables[0].minutes), tables)
    problem = level.problem
    with timetables(run, level) as work:
        budget = Budget(run, work.mover)
        improve(run, work, level, budget)
        low, high = JUDGE_DRAWS
        draws = max(low, min(high, JUDGED // max(1, len(network.requests))))
        pool = draw_pool(network, draws=draws, vectors=JUDGE_VECTORS, seed=options.seed + 2)
        judge = Estimator(work.draft, pool)
        p_wait = settle(run, work, level, budget, judge)
    run.score(work.draft)
    run.enter("reasons")
    unbooked = Explainer(work.draft, work.mover.packer, level.reduced).all()
    bookings = bookings_of(work.draft, p_wait)
    objective = round(work.draft.cost(), 6)
    bound = _bound(run.bound or 0.0, objective)
    found = Plan(
        bookings=bookings,
        care=care_of(work.draft),
        care_unplaced=(),
        breaks=breaks_of(work.draft),
        unbooked=unbooked,
        moved=moved_of(work.draft, bookings),
        lengths={
            profile.id: int(minutes)
            for profile, minutes in zip(network.profiles, problem.lengths, strict=True)
        },
        objective=objective,
        bound=bound,
        gap=(objective - bound) / bound if bound > 0 else None,
        prices=prices_of(problem, level.capacity, level.allocation.prices),
        seconds=run.seconds,
    )
    run.enter("check")
    check(network, found, options.seed)
    run.enter("")
    return found


def _bound(bound: float, objective: float) -> float:
    """The bound, at most the objective; a bound clearly above it is a fault of the program."""
    if bound > objective + 1e-6 * (1 + abs(objective)):
        text = f"bound {bound} above the cost {objective} of a plan"
        raise PlanUnsound([Fault("bound", text, REPORT)])
    return min(bound, objective)


def check(network: Network, found: Plan, seed: int) -> None:
    """Raise PlanUnsound where a plan breaks a rule: nothing leaves the engine unchecked."""
    breaches = verify(network, found, draws=CHECK_DRAWS, seed=seed + 3, care_may_be_unplaced=False)
    if breaches:
        raise PlanUnsound([Fault(f"rule {item.rule}", item.detail, REPORT) for item in breaches])
