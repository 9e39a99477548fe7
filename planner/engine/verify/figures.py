"""Rule 10: planned lengths, and the figures that a plan states about itself."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.engine.verify.breach import Breach
from planner.engine.verify.cost import charges

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.verify.facts import Facts


def lengths_stated(facts: Facts) -> Iterator[Breach]:
    """Rule 10: ``lengths`` has every profile of the network, in whole minutes above 0."""
    lengths = facts.plan.lengths
    for profile in facts.profiles:
        if profile not in lengths:
            yield Breach(10, (profile,), f"`lengths` has no minutes for profile {profile}")
    for profile, minutes in lengths.items():
        if profile not in facts.profiles:
            yield Breach(10, (profile,), f"`lengths` names {profile}, no known profile")
        if minutes <= 0 or minutes % 1 != 0:
            detail = f"`lengths` gives profile {profile} {minutes}, not whole minutes above 0"
            yield Breach(10, (profile,), detail)


def bookings_long_enough(facts: Facts) -> Iterator[Breach]:
    """Rule 10: no booking is shorter than its profile's length there; fixed ones excepted."""
    for booking in facts.plan.bookings:
        request = facts.requests.get(booking.request)
        if facts.is_fixed(booking):
            continue
        least = 1
        if request is not None:
            profile = facts.profile_at(request, facts.site_of(booking))
            least = max(least, facts.plan.lengths.get(profile, least))
        if booking.minutes < least:
            detail = f"{booking.request} is planned {booking.minutes} minutes, less than {least}"
            yield Breach(10, (booking.request,), detail)


def figures_right(facts: Facts) -> Iterator[Breach]:
    """Rule 10: the objective is the plan's cost, the bound no larger, the gap what they give.

    The objective may be off by 1e-6 of itself or 1e-4, as sums in another order are.
    """
    plan, cost = facts.plan, charges(facts)
    if not math.isclose(plan.objective, cost.total, rel_tol=1e-6, abs_tol=1e-4):
        detail = (
            f"the objective is stated as {plan.objective:.10g}, but is {cost.total:.10g}: "
            f"unbooked {cost.unbooked:g}, late {cost.late:g}, wait {cost.wait:g}, "
            f"travel {cost.travel:g}, moves {cost.move:g}"
        )
        yield Breach(10, ("objective",), detail)
    if not plan.bound <= plan.objective + 1e-6:
        detail = f"the bound {plan.bound!r} is above the objective {plan.objective!r}"
        yield Breach(10, ("bound",), detail)
    yield from _gap(plan.objective, plan.bound, plan.gap)


def _gap(objective: float, bound: float, gap: float | None) -> Iterator[Breach]:
    if bound == 0:
        if gap is not None:
            yield Breach(10, ("gap",), f"the gap is {gap!r} although the bound is 0, not null")
        return
    truth = (objective - bound) / bound
    if gap is None or not math.isclose(gap, truth, rel_tol=1e-6, abs_tol=1e-6):
        yield Breach(10, ("gap",), f"the gap is stated as {gap!r}, but is {truth!r}")
