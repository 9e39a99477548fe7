"""Every plan under the same judge: rules, promises, and how much of the room is sessions."""

from __future__ import annotations

from dataclasses import dataclass, replace

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.sessions.length import session_length
from planner.engine.sessions.waits import assess, breaks_promise
from planner.engine.verify import verify
from planner.gateway.board.book import open_book
from planner.gateway.board.room import load_of

STATED_DRAWS = 16_384
"""Draws from which a rival's plan states its chances of waiting."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the judge found.

    ``broken`` counts breaches of every rule but the promises; ``over`` is the share of placed
    bookings whose subject waits too long more often than promised, ``worst`` the largest such
    chance, ``late_ends`` the station-days and shifts that end late more often than promised.
    ``used`` is expected session minutes over room (rule 8), None where there is no room.
    """

    broken: int
    over: float
    worst: float
    late_ends: int
    used: float | None
    first: str

    @property
    def keeps_promises(self) -> bool:
        """Whether no promise is broken."""
        return self.over == 0 and self.late_ends == 0


def judged(network: Network, plan: Plan, *, draws: int, seed: int) -> Verdict:
    """Judge a plan by drawn days of the judge's own."""
    breaches = verify(network, plan, draws=draws, seed=seed, care_may_be_unplaced=False)
    others = [item for item in breaches if item.rule != 9]
    outcome = assess(
        network, plan.bookings, plan.care, plan.breaks,
        draws_n=draws, seed=seed, purpose="bench",
    )  # fmt: skip
    fixed = {item.request for item in network.appointments if item.fixed}
    waits = [risk for name, risk in outcome.p_wait.items() if name not in fixed]
    policy = network.policy
    over = sum(breaks_promise(risk, policy.wait_risk, draws) for risk in waits)
    waiting = {item.request for item in plan.bookings}
    late = sum(item.rule == 9 and not waiting & set(item.things) for item in breaches)
    return Verdict(
        broken=len(others),
        over=over / len(waits) if waits else 0.0,
        worst=max(waits, default=0.0),
        late_ends=late,
        used=used_room(network, plan),
        first=others[0].detail if others else "",
    )


def with_chances(network: Network, plan: Plan, seed: int) -> Plan:
    """The plan with each booking's chance of waiting, as rule 9 wants it stated."""
    outcome = assess(
        network, plan.bookings, plan.care, plan.breaks,
        draws_n=STATED_DRAWS, seed=seed, purpose="stated",
    )  # fmt: skip
    bookings = tuple(
        replace(item, p_wait=outcome.p_wait.get(item.request, 0.0)) for item in plan.bookings
    )
    return replace(plan, bookings=bookings)


def used_room(network: Network, plan: Plan) -> float | None:
    """Expected session minutes (nobody who stays away takes any) over the room of rule 8."""
    book = open_book(network, plan)
    means = {item.id: session_length(item).mean_booked for item in network.profiles}
    sessions = sum(means[book.profile_at(item)] for item in plan.bookings)
    room = sum(
        load_of(book, site.id, day).room for site in network.sites for day in range(network.days)
    )
    return sessions / room if room else None
