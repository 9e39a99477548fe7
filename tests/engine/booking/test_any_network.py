"""Whatever the network, the run ends with a plan that passes its judge, or names what excludes it.

The oracle of the second test is `tests.engine.monolith`, a model of the whole network that shares
no code with the planner (derived from the network format's rules 1 to 8).
"""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.booking import Options
from planner.engine.booking.reasons import MEANING
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.sessions.planned import planned_minutes
from planner.engine.verify import verify
from tests.engine.booking.build import plan_and_proof
from tests.engine.booking.networks import certain, networks
from tests.engine.monolith import solve_monolith

MODERATE = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def planned(network: Network, seed: int) -> tuple[Plan, float] | list[str]:
    """The plan of a small effort and its bound, or the paths of what makes it impossible."""
    try:
        return plan_and_proof(network, Options(effort=1, seed=seed))
    except NetworkImpossible as error:
        return [fault.path for fault in error.faults]


@given(network=networks(), seed=st.integers(0, 5))
@MODERATE
def test_a_small_network_gets_a_sound_plan_or_is_impossible(network: Network, seed: int) -> None:
    result = planned(network, seed)
    if isinstance(result, list):
        assert result
        assert all(path.startswith(("care[", "appointments[", "technicians[")) for path in result)
        return
    found, proven = result
    assert verify(network, found, draws=2000, seed=seed + 77, care_may_be_unplaced=False) == ()
    assert found.bound <= found.objective
    assert proven <= found.objective + 1e-6
    booked = {booking.request for booking in found.bookings}
    assert booked.isdisjoint(item.request for item in found.unbooked)
    assert len(booked) + len(found.unbooked) == len(network.requests)
    assert all(item.reasons for item in found.unbooked)
    reasons = [reason for item in found.unbooked for reason in item.reasons]
    assert all(reason.code in MEANING and reason.detail and reason.remedy for reason in reasons)


def fewer(network: Network, most: int) -> Network:
    """The network with its first ``most`` requests, and their appointments."""
    requests = network.requests[:most]
    names = {request.id for request in requests}
    booked = tuple(item for item in network.appointments if item.request in names)
    return replace(network, requests=requests, appointments=booked)


@given(network=networks())
@MODERATE
def test_a_small_network_is_impossible_only_if_it_is_and_bounded_by_its_optimum(
    network: Network,
) -> None:
    network = certain(fewer(network, 8))
    lengths = {
        item.id: planned_minutes(item, network.policy, network.grain) for item in network.profiles
    }
    best = solve_monolith(network, lengths, effort=10.0)
    result = planned(network, seed=1)
    assert isinstance(result, list) == (best is None)
    if best is not None and not isinstance(result, list):
        found, proven = result
        assert found.lengths == lengths
        assert found.objective >= best.bound - 1e-6
        assert proven <= best.cost + 1e-6
