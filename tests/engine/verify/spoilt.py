"""A mutation of the good plan, and what the judge must say about it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from planner.engine.verify import verify
from tests.engine.verify.good import NETWORK, PLAN

if TYPE_CHECKING:
    from planner.engine.network import Network
    from planner.engine.plan import Booking, Plan


class Spoilt(NamedTuple):
    """The rule that a mutation is meant for, a thing to be named, and rules that break with it."""

    rule: int
    thing: str
    why: str
    plan: Plan
    network: Network = NETWORK
    follow: tuple[int, ...] = ()


COST = (10,)  # the objective is no longer the one stated


def name(spoilt: Spoilt) -> str:
    """The id of the test of a mutation."""
    return f"rule {spoilt.rule}: {spoilt.why}"


def also(booking: Booking) -> Plan:
    """The good plan with one more booking."""
    return replace(PLAN, bookings=(*PLAN.bookings, booking))


def check(spoilt: Spoilt) -> None:
    """Exactly the rules named are broken, and the thing is named under the rule meant."""
    found = verify(spoilt.network, spoilt.plan, draws=500, seed=1)
    assert {breach.rule for breach in found} == {spoilt.rule, *spoilt.follow}, found
    assert any(b.rule == spoilt.rule and spoilt.thing in b.things for b in found), found
