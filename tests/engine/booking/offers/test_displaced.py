"""Displacing, held against every pair of a booking taken out and the two put back (derived)."""

from __future__ import annotations

import random
from math import inf
from typing import TYPE_CHECKING

import pytest

from planner.engine.booking.offers import OfferDesk
from planner.engine.network import Appointment, Network, Window
from planner.engine.units import DAY
from planner.engine.verify import verify
from tests.engine.booking.build import at
from tests.engine.booking.offers.brute import every_start, put_right, with_booking, without
from tests.engine.booking.offers.hall import as_booking, booked, hall, request

if TYPE_CHECKING:
    from planner.engine.plan import Plan


def crowded(seed: int) -> tuple[Network, Plan]:
    """Two days, two desks, 20-minute sessions; 7 to 11 of 12 places taken, x without one.

    x can come on the first day only, where every place is taken.
    """
    dice = random.Random(seed)
    starts = [(desk, at(9, 20 * k, day=day)) for day in (0, 1) for desk in (0, 1) for k in range(3)]
    taken = starts[:6] + dice.sample(starts[6:], dice.randrange(1, 6))
    names = [f"r{k}" for k in range(len(taken))]
    stands = tuple(
        Appointment(f"a-{name}", name, f"d{desk}", f"t{desk}", start, 20, dice.random() < 0.5)
        for name, (desk, start) in zip(names, taken, strict=True)
        if dice.random() < 0.3
    )
    others = [
        request(name, due=dice.choice((0, 1, 3)), weight=dice.choice((0.5, 1.0, 2.0)))
        for name in names
    ]
    only = (Window(at(9), at(9, 20 * dice.choice((1, 2, 3)))),)
    network = hall(request("x", available=only), *others, desks=2, appointments=stands)
    plan = booked(network)
    for desk in (0, 1):
        mine = [(n, s) for n, (d, s) in zip(names, taken, strict=True) if d == desk]
        for item in booked(network, *mine, desk=desk).bookings:
            plan = with_booking(network, plan, item)
    return network, put_right(network, plan)


def least(network: Network, plan: Plan, *, later: bool) -> float:
    """The least cost for x and one moved booking together (with ``later``, to the second day)."""
    fixed = {item.request for item in network.appointments if item.fixed}
    best = inf
    for other in network.requests[1:]:
        if other.id in fixed:
            continue
        gone = without(plan, other.id)
        before = next(
            s.cost
            for s in every_start(network, plan, other)
            if (s.booking.station, s.booking.start)
            == next((b.station, b.start) for b in plan.bookings if b.request == other.id)
        )
        for mine in every_start(network, gone, network.requests[0]):
            with_x = with_booking(network, gone, mine.booking)
            for theirs in every_start(network, with_x, other):
                if not later or theirs.booking.start >= DAY:
                    best = min(best, mine.cost + theirs.cost - before)
    return best


@pytest.mark.parametrize("seed", range(24))
def test_the_cheapest_displacement_is_found_and_keeps_every_rule(seed: int) -> None:
    network, plan = crowded(seed)
    assert verify(network, plan, draws=20, seed=1) == ()
    answer = OfferDesk(network, plan, draws=64).offers(network.requests[0], 5)
    assert answer.offers == ()
    assert answer.displaces
    costs = [entry.cost for entry in answer.displaces]
    assert costs == sorted(costs)
    assert least(network, plan, later=False) - 1e-9 <= costs[0]
    assert costs[0] <= least(network, plan, later=True) + 1e-9
    for entry in answer.displaces:
        both = with_booking(network, without(plan, entry.booking.request),
                            as_booking("x", entry.offer))  # fmt: skip
        both = with_booking(network, both, as_booking(entry.booking.request, entry.to))
        assert entry.booking in plan.bookings
        assert verify(network, both, draws=20, seed=1) == ()
        saved = plan.objective - both.objective
        assert saved == pytest.approx(answer.unbooked - entry.cost)
        assert saved > 0
