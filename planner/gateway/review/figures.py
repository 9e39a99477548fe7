"""What a plan comes to, on the same scale for a run, an earlier run and the plan in force."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from planner.engine.network import Network
from planner.engine.plan import Plan, Reason, Unbooked
from planner.engine.units import DAY
from planner.engine.verify.cost import charges, moved_or_dropped
from planner.engine.verify.facts import gather
from planner.gateway.booked import booked_already


@dataclass(frozen=True, slots=True)
class Figures:
    """Counts, days and minutes of one plan.

    ``late`` are booked after their due date, ``overdue`` left out though due within the plan's
    days. ``wait_days`` is the mean from release to the session over those booked (None: nobody).
    ``worst`` is the largest chance of a long wait among bookings that the plan placed, None where
    it is not known; ``bound`` and ``gap`` are None for a plan that nobody computed.
    """

    requests: int
    booked: int
    late: int
    overdue: int
    moved: int
    minutes: int
    wait_days: float | None
    worst: float | None
    cost: float
    bound: float | None
    gap: float | None

    @property
    def left(self) -> int:
        """Requests without a place."""
        return self.requests - self.booked


def figures_of(network: Network, plan: Plan) -> Figures:
    """The figures of a plan that was computed."""
    fixed = {item.request for item in network.appointments if item.fixed}
    placed = [item.p_wait for item in plan.bookings if item.request not in fixed]
    return _figures(network, plan, max(placed, default=None), plan.bound, plan.gap)


def figures_in_force(network: Network) -> Figures:
    """The figures of what is booked already: everybody else counts as left out."""
    return _figures(network, in_force(network), None, None, None)


def in_force(network: Network) -> Plan:
    """The appointments of a network as a plan: nothing moved, nothing new."""
    bookings = booked_already(network, {})
    booked = {item.request for item in bookings}
    reason = (Reason("not-planned", "has no place yet", "plan"),)
    return Plan(
        bookings=bookings,
        care=(),
        care_unplaced=(),
        breaks=(),
        unbooked=tuple(
            Unbooked(item.id, reason) for item in network.requests if item.id not in booked
        ),
        moved=(),
        lengths={},
        objective=0.0,
        bound=0.0,
        gap=None,
    )


def _figures(
    network: Network, plan: Plan, worst: float | None, bound: float | None, gap: float | None
) -> Figures:
    facts = gather(network, plan)
    days = [
        (item.start // DAY, facts.requests[item.request])
        for item in plan.bookings
        if item.request in facts.requests
    ]
    waits = [max(0, day - request.release) for day, request in days]
    return Figures(
        requests=len(network.requests),
        booked=len(plan.bookings),
        late=sum(day > request.due for day, request in days),
        overdue=sum(
            facts.requests[item.request].due < network.days
            for item in plan.unbooked
            if item.request in facts.requests
        ),
        moved=len(moved_or_dropped(facts)),
        minutes=sum(item.minutes for item in plan.bookings),
        wait_days=sum(waits) / len(waits) if waits else None,
        worst=worst,
        cost=charges(facts).total,
        bound=bound,
        gap=gap,
    )


Told = tuple[str, date, int]
"""A site, a day and a told minute past midnight."""


@dataclass(frozen=True, slots=True)
class Difference:
    """Requests of two plans: the same told time at the same site in both, another, only in one."""

    same: int
    other: int
    only_here: int
    only_there: int


def told_by(network: Network, plan: Plan) -> dict[str, Told]:
    """Site, day and told minute of each booking, by request."""
    return {
        item.request: (
            item.site,
            network.first_day + timedelta(days=item.told // DAY),
            item.told % DAY,
        )
        for item in plan.bookings
    }


def difference(here: dict[str, Told], there: dict[str, Told]) -> Difference:
    """Two plans, request by request, on the calendar: their first days may differ."""
    both = here.keys() & there.keys()
    same = sum(here[name] == there[name] for name in both)
    return Difference(same, len(both) - same, len(here) - len(both), len(there) - len(both))
