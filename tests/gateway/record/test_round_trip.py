"""Records, network, plan, records, network: nothing that the engine uses is lost on the way."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from planner.engine.booking import Options, plan
from planner.engine.errors import FileRefused, NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.scenario.small import SMALL
from planner.engine.verify import verify
from planner.gateway.files import read_network
from planner.gateway.record import read, store, write
from sites.check.all import CHECKS
from tests.engine.booking.networks import networks
from tests.gateway.record.same import engine_form

DEMO = Path(__file__).resolve().parents[3] / "fixtures" / "demo-network.json"
FEW = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def again(network: Network) -> Network:
    """What the record says of the network's horizon."""
    return read(first_day=network.first_day, days=network.days)


def findings() -> list[str]:
    """Everything that is off with the record."""
    return [str(finding) for check in CHECKS.values() for finding in check()]


def after(network: Network, made: Plan) -> Network:
    """The network that must be read once a plan for it has been written, but for new ids."""
    was = {row.request: row for row in network.appointments}
    booked = tuple(
        (row.request, row.station, row.technician, row.start, row.minutes)
        for row in sorted(made.bookings, key=lambda each: each.request)
    )
    assert booked == tuple(
        (row.request, row.station, row.technician, row.start, row.minutes)
        for row in sorted(again(network).appointments, key=lambda each: each.request)
    )
    now = again(network)
    fixed = {row.request: row.fixed for row in now.appointments}
    ids = {row.request: row.id for row in now.appointments}
    assert all(ids[key] == row.id for key, row in was.items() if key in ids)
    assert fixed == {key: key in was and was[key].fixed for key in fixed}
    return replace(now, appointments=network.appointments)


class RoundTrip(TestCase):
    """Each example in a transaction of its own."""

    @given(network=networks(), seed=st.integers(0, 3))
    @FEW
    def test_a_small_network_comes_back(self, network: Network, seed: int) -> None:
        try:
            store(network)
        except FileRefused as error:
            assert all(fault.remedy for fault in error.faults)
            assert again_is_empty(network)
            return
        there = again(network)
        assert engine_form(there) == engine_form(network)
        assert findings() == []
        try:
            made = plan(there, Options(effort=1, seed=seed))
        except NetworkImpossible:
            return
        assert verify(there, made, draws=500, seed=seed) == ()
        written = write(there, made)
        assert written.changed == ()
        assert engine_form(after(there, made)) == engine_form(there)
        assert findings() == []


def again_is_empty(network: Network) -> bool:
    """Whether a refused network left nothing behind."""
    try:
        return again(network).sites == ()
    except FileRefused as error:
        return [fault.path for fault in error.faults] == ["programmes"]


@pytest.mark.django_db
@pytest.mark.parametrize("name", ["empty", "one-station", "no-technician", "impossible-care"])
def test_tiny_networks_come_back(name: str) -> None:
    network = SMALL[name]()
    store(network)
    assert engine_form(again(network)) == engine_form(network)


@pytest.mark.django_db
def test_the_demo_comes_back() -> None:
    network = read_network(DEMO)
    store(network)
    there = again(network)
    assert engine_form(there) == engine_form(network)
    assert findings() == []
