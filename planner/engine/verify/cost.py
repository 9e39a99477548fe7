"""What a plan costs, from network and plan alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.engine.units import DAY, told

if TYPE_CHECKING:
    from planner.engine.verify.facts import Facts


@dataclass(frozen=True, slots=True)
class Charges:
    """The parts of the objective, each summed over the plan."""

    unbooked: float
    late: float
    wait: float
    travel: float
    move: float

    @property
    def total(self) -> float:
        """The objective."""
        return self.unbooked + self.late + self.wait + self.travel + self.move


def charges(facts: Facts) -> Charges:
    """The costs of the network format for this plan; a request booked twice is charged once.

    Days are calendar days on the site's clock. A site that is none of the request's has no travel.
    """
    cost = facts.network.policy.cost
    unbooked = late = wait = travel = 0.0
    for request in facts.network.requests:
        booking = facts.booked.get(request.id)
        if booking is None:
            each = cost.unbooked if request.unbooked is None else request.unbooked
            unbooked += each * request.weight
            continue
        day = booking.start // DAY
        late += cost.late_day * request.weight * max(0, day - request.due)
        wait += cost.wait_day * request.weight * max(0, day - request.release)
        site = facts.site_of(booking)
        minutes = sum(choice.travel for choice in request.sites if choice.site == site)
        travel += cost.travel_minute * minutes
    move = cost.move * len(moved_or_dropped(facts))
    return Charges(unbooked, late, wait, travel, move)


def moved_or_dropped(facts: Facts) -> set[str]:
    """Ids of the appointments, not fixed, that do not stand as they were.

    Station, technician or told time changed, or the request is not booked.
    """
    grain = facts.network.grain
    gone = set()
    for request, was in facts.movable.items():
        booking = facts.booked.get(request)
        if booking is None or (booking.station, booking.technician, told(booking.start, grain)) != (
            was.station,
            was.technician,
            told(was.start, grain),
        ):
            gone.add(was.id)
    return gone
