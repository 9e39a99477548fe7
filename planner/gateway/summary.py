"""What a run did, in a few lines for a terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from planner.engine.booking import gap_as_capacity, strong_bound
from planner.engine.network import Network
from planner.engine.plan import Plan


def summary_lines(network: Network, plan: Plan, bounds: Iterable[str] = ()) -> list[str]:
    """Booked, not booked by reason, promises, care, cost and seconds, one line each.

    A request left out for several reasons counts under the first of them. ``bounds`` are lines on
    what the bound means, to follow the cost.
    """
    codes = Counter(item.reasons[0].code for item in plan.unbooked)
    lines = [f"booked      {len(plan.bookings):,} of {len(network.requests):,} requests"]
    lines.append(f"not booked  {len(plan.unbooked):,}")
    lines += [f"            {count:7,}  {code}" for code, count in _by_size(codes)]
    lines.append(f"promises    {promise_words(network, plan)}")
    lines.append(f"care        {len(plan.care):,} placed, {len(plan.breaks):,} breaks")
    if plan.care_unplaced:
        lines.append(f"            {len(plan.care_unplaced):,} care not placed")
    if network.appointments:
        lines.append(
            f"moved       {len(plan.moved):,} of {len(network.appointments):,} appointments"
        )
    lines.append(f"cost        {cost_words(plan)}")
    lines += bounds
    lines.append(f"seconds     {seconds_words(plan)}")
    return lines


def promise_words(network: Network, plan: Plan) -> str:
    """The waiting promise, the worst booking that the run placed, and how many stand under it."""
    policy = network.policy
    stood = {item.request for item in network.appointments if item.fixed}
    placed = [item.p_wait for item in plan.bookings if item.request not in stood]
    promise = f"wait over {policy.wait_minutes} min at most {policy.wait_risk:.1%}"
    if not placed:
        return f"{promise}: no booking placed"
    return f"{promise}: worst {max(placed):.1%} over {len(placed):,} bookings placed"


def cost_words(plan: Plan) -> str:
    """Cost, bound and gap."""
    gap = "no gap, the bound is 0" if plan.gap is None else f"gap {plan.gap:.2%}"
    return f"{plan.objective:,.2f}, bound {plan.bound:,.2f}, {gap}"


def bound_lines(network: Network, plan: Plan, *, strong: bool, threads: int = 1) -> list[str]:
    """The gap as capacity; where ``strong``, the strong bound and the gap to it before."""
    lines = []
    if strong:
        bound = strong_bound(network, plan, threads=threads)
        gap = f"gap {max(0.0, plan.objective / bound - 1):.2%}" if bound else "no gap"
        lines.append(f"strong      bound {bound:,.2f} where promises are kept too, {gap}")
    shrink = gap_as_capacity(network, plan, strong=strong, threads=threads)
    which = "strong bound" if strong else "bound"
    return [*lines, f"capacity    {capacity_words(which, shrink)}"]


def capacity_words(bound: str, shrink: float) -> str:
    """The gap as capacity, a share, to a bound of some name."""
    if not shrink:
        return f"the {bound} reaches this cost with all the room there is"
    return f"the {bound} reaches this cost with {shrink:.2%} less room on every site's every day"


def seconds_words(plan: Plan) -> str:
    """Wall time by stage."""
    return ", ".join(f"{stage} {value:.1f}" for stage, value in plan.seconds.items()) or "-"


def _by_size(codes: Counter[str]) -> list[tuple[str, int]]:
    return sorted(codes.items(), key=lambda item: (-item[1], item[0]))
