"""Nothing outside the best may be better: held against every start, minute by minute.

The oracle enumerates station, technician and minute (derived from rules 1 to 4 and 8), charges
with the judge's costs, and judges the promises by the judge's own simulation, on other draws.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.booking import Options, plan
from planner.engine.booking.offers import Offer, OfferDesk
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Network, Request
from planner.engine.plan import Plan
from planner.engine.sessions.waits import Outcome, assess
from planner.engine.verify import verify
from tests.engine.booking.networks import networks, random_network
from tests.engine.booking.offers.brute import (
    Start,
    every_start,
    put_right,
    restated,
    with_booking,
    without,
)

DRAWS = 2000
CHECKED = 12
"""Starts whose refusal is checked in one case, the best first; each takes a simulation."""
LOOSE = 5.0
"""Standard errors: the desk wants 1.5 of its own below a promise, and the two draw apart."""


KINDS = ("refused", "few", "full", "none")
"""What a case shows, rarest first: a better start that a promise rules out; fewer than asked."""


def opened_up(network: Network, made: Plan, seed: int) -> Plan:
    """The plan with about a third of its bookings taken out, fixed appointments excepted."""
    fixed = {item.request for item in network.appointments if item.fixed}
    dice = random.Random(seed)
    for booking in made.bookings:
        if booking.request not in fixed and dice.random() < 1 / 3:
            made = without(made, booking.request)
    return put_right(network, made)


def key_of(offer: Offer | Start) -> tuple[float, float]:
    return round(offer.cost, 6), round(offer.price, 6)


def risk_too_high(network: Network, made: Plan) -> bool:
    """Whether some promise is so close to broken that a desk may refuse the plan."""

    def close(estimate: float, promise: float) -> bool:
        error = (promise * (1 - promise) / DRAWS) ** 0.5
        return promise < 1 and estimate > promise - LOOSE * error - 1e-9

    policy = network.policy
    found: Outcome = assess(
        network, made.bookings, made.care, made.breaks, draws_n=DRAWS, seed=5, purpose="brute"
    )
    late = (*found.station_overtime.values(), *found.shift_overtime.values())
    return any(close(item, policy.wait_risk) for item in found.p_wait.values()) or any(
        close(item, policy.overtime_risk) for item in late
    )


def check(network: Network, made: Plan, request: Request, top: int) -> str:
    """Hold one answer of the desk against the oracle; says what kind of case it was."""
    desk = OfferDesk(network, made, draws=1024)
    answer = desk.offers(request, top)
    everything = every_start(network, made, request)
    by_start = {(s.booking.station, s.booking.technician, s.booking.start): s for s in everything}
    assert len(answer.offers) <= top
    order = [(*key_of(offer), offer.told) for offer in answer.offers]
    assert order == sorted(order)
    for offer in answer.offers:
        start = by_start[offer.station, offer.technician, offer.start]
        assert key_of(offer) == key_of(start)
        assert (offer.site, offer.told, offer.minutes) == (*start.place, start.booking.minutes)
        booked = replace(start.booking, p_wait=offer.p_wait)
        after = restated(network, with_booking(network, made, booked), request.id)
        assert verify(network, after, draws=DRAWS, seed=3) == ()
    offered = {(offer.site, offer.told): key_of(offer) for offer in answer.offers}
    assert len(offered) == len(answer.offers)
    worst = order[-1] if len(order) == top else (float("inf"), 0.0, 0)
    better = [
        start
        for start in everything
        if (*key_of(start), start.booking.told) < worst
        and offered.get(start.place, (float("inf"), 0.0)) > key_of(start)
    ]
    better.sort(key=lambda start: (*key_of(start), start.booking.told))
    for start in better[:CHECKED]:
        assert risk_too_high(network, with_booking(network, made, start.booking)), start
    return "none" if not order else "few" if len(order) < top else "refused" if better else "full"


def case(network: Network, seed: int, top: int) -> str:
    try:
        made = plan(network, Options(effort=1, seed=seed))
    except NetworkImpossible:
        return "impossible"
    made = opened_up(network, made, seed)
    fixed = {item.request for item in network.appointments if item.fixed}
    requests = [request for request in network.requests if request.id not in fixed]
    random.Random(seed).shuffle(requests)
    kinds = [check(network, made, request, top) for request in requests[:3]]
    return min(kinds, key=KINDS.index) if kinds else "nobody"


@pytest.mark.parametrize("block", range(7))
def test_nothing_outside_the_best_is_better_in_drawn_networks(block: int) -> None:
    kinds = Counter(
        case(random_network(seed), seed, top=(1, 3, 10)[seed % 3])
        for seed in range(block * 15, block * 15 + 15)
    )
    assert kinds["full"] >= 3
    assert kinds["few"] + kinds["none"] >= 1


@given(network=networks(), seed=st.integers(0, 5), top=st.integers(1, 12))
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_nothing_outside_the_best_is_better_in_any_network(
    network: Network, seed: int, top: int
) -> None:
    case(network, seed, top)
