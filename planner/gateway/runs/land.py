"""The plan of a run into the record: once, whoever else tries at the same time."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime

from planner.engine.errors import Fault, FileRefused
from planner.engine.plan import Plan
from planner.gateway.record import write
from planner.gateway.runs.result import Result, result
from sites.errors import NotReady
from sites.models import PlanRun, RunState, User


def land(
    run: int,
    *,
    items: Collection[str] | None = None,
    by: User | None = None,
    at: datetime | None = None,
    made: Result | None = None,
) -> PlanRun:
    """Write the plan of a run that is ready for review, and return the run with its ``outcome``.

    ``items`` are the requests whose places are accepted (None: all); the others stay as the record
    has them. Care and breaks are written wherever they fit beside what stands. A run whose plan is
    kept already is returned as it is: nothing is written twice. ``made`` is the run's `result`,
    where the caller has read it. Raises NotReady where there is no plan to decide on, FileRefused
    where an item is no request of the run, StepRefused, Busy.
    """
    found = PlanRun.objects.get(pk=run)
    if found.state == RunState.KEPT:
        return found
    made = made or result(run)
    plan = made.plan if items is None else part_of(made.plan, items)
    try:
        write(made.network, plan, by=by, at=at, seed=found.seed, run=found)
    except NotReady:
        found.refresh_from_db()
        if found.state != RunState.KEPT:
            raise
    found.refresh_from_db()
    return found


def part_of(plan: Plan, items: Collection[str]) -> Plan:
    """The plan with only these requests in it. Raises FileRefused."""
    chosen = set(items)
    known = {each.request for each in plan.bookings} | {each.request for each in plan.unbooked}
    unknown = chosen - known
    if unknown:
        raise FileRefused(
            [
                Fault(f"request {name}", "is not in this run", "open the run again and choose anew")
                for name in sorted(unknown)
            ]
        )
    return replace(
        plan,
        bookings=tuple(each for each in plan.bookings if each.request in chosen),
        unbooked=tuple(each for each in plan.unbooked if each.request in chosen),
    )
