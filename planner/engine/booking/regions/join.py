"""The plans of regions as one plan of the whole, checked whole."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import chain
from math import fsum

from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.bounds.program import program_of
from planner.engine.booking.draft import fixed_cost
from planner.engine.booking.run import check
from planner.engine.booking.stages import floor
from planner.engine.network import Network
from planner.engine.plan import Plan


def join(
    whole: Network,
    regions: Sequence[Network],
    plans: Sequence[Plan],
    *,
    seed: int,
    threads: int = 1,
) -> Plan:
    """One plan for ``whole`` from a plan for each of its regions, as `split` gave them.

    Costs and bounds add up, since nothing in one region takes room from another. A plan states one
    table of lengths: the shortest that a region worked with. Shorter lengths can lower a bound, so
    that of a region which worked with longer ones is proven again with these, on ``threads``, whose
    number changes only the time. ``seconds`` are summed over regions: work, not waiting.

    Raises
    ------
    PlanUnsound
        Where the joined plan breaks a rule, or the regions are not those of ``whole``.

    """
    lengths = {
        profile.id: min(plan.lengths[profile.id] for plan in plans) for profile in whole.profiles
    }
    bounds = [_bound(*each, lengths, threads) for each in zip(regions, plans, strict=True)]
    objective = round(fsum(plan.objective for plan in plans), 6)
    bound = min(floor(fsum(bounds)), objective)
    place = {site.id: k for k, site in enumerate(whole.sites)}
    request = {item.id: k for k, item in enumerate(whole.requests)}
    care = {item.id: k for k, item in enumerate(whole.care)}
    moved = set(chain.from_iterable(plan.moved for plan in plans))
    found = Plan(
        bookings=tuple(
            sorted(
                chain.from_iterable(plan.bookings for plan in plans),
                key=lambda item: (item.start, item.site, item.station),
            )
        ),
        care=tuple(
            sorted(
                chain.from_iterable(plan.care for plan in plans),
                key=lambda item: care.get(item.care, -1),
            )
        ),
        care_unplaced=tuple(chain.from_iterable(plan.care_unplaced for plan in plans)),
        breaks=tuple(
            sorted(
                chain.from_iterable(plan.breaks for plan in plans),
                key=lambda item: (item.technician, item.start),
            )
        ),
        unbooked=tuple(
            sorted(
                chain.from_iterable(plan.unbooked for plan in plans),
                key=lambda item: request.get(item.request, -1),
            )
        ),
        moved=tuple(item.id for item in whole.appointments if item.id in moved),
        lengths=lengths,
        objective=objective,
        bound=bound,
        gap=(objective - bound) / bound if bound > 0 else None,
        prices=tuple(
            sorted(
                chain.from_iterable(plan.prices for plan in plans),
                key=lambda item: place.get(item.site, -1),
            )
        ),
        seconds=_seconds(plan.seconds for plan in plans),
    )
    check(whole, found, seed)
    return found


def _bound(region: Network, plan: Plan, lengths: dict[str, int], threads: int) -> float:
    """The region's bound for plans with ``lengths``, which are nowhere above its own."""
    if plan.lengths == lengths:
        return plan.bound
    program = program_of(region, replace(plan, lengths=lengths), strong=False)
    found = ascend(program.options, program.capacity, threads=threads).bound
    return min(plan.bound, max(0.0, found + fixed_cost(program.problem)))


def _seconds(each: Iterable[dict[str, float]]) -> dict[str, float]:
    total: dict[str, float] = defaultdict(float)
    for seconds in each:
        for stage, value in seconds.items():
            total[stage] += value
    return {stage: round(value, 3) for stage, value in total.items()}
