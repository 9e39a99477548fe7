"""Invented networks can be served: an exact model places breaks, care and fixed appointments."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.scenario.small import SMALL
from planner.engine.units import DAY
from tests.engine.scenario.possible import impossible_sites

if TYPE_CHECKING:
    from planner.engine.network import Network

NETWORKS = {
    "S": generate(SIZES["S"], seed=1),
    "S of another seed": generate(SIZES["S"], seed=2),
    "M": generate(SIZES["M"], seed=1),
    "M saturated": generate(SIZES["M"], seed=1, load=1.5),
    "demo": demo_network(),
}


@pytest.fixture(params=list(NETWORKS))
def network(request: pytest.FixtureRequest) -> Network:
    return NETWORKS[request.param]


def test_breaks_care_and_fixed_appointments_can_all_be_placed(network: Network) -> None:
    assert network.care
    assert any(item.fixed for item in network.appointments)
    assert impossible_sites(network) == []


@pytest.mark.parametrize("name", ["impossible-fixed", "impossible-care"])
def test_the_exact_model_sees_what_is_impossible(name: str) -> None:
    assert impossible_sites(SMALL[name]()) == ["quodinock"]


@pytest.mark.parametrize("name", ["one-station", "no-technician"])
def test_the_tiny_networks_that_can_be_served_are_seen_as_such(name: str) -> None:
    assert impossible_sites(SMALL[name]()) == []


def test_appointments_suit_their_requests(network: Network) -> None:
    """Rules 1 to 3, for fixed and movable appointments alike."""
    requests = {request.id: request for request in network.requests}
    stations = {station.id: station for station in network.stations}
    technicians = {technician.id: technician for technician in network.technicians}
    sites = {site.id: site for site in network.sites}
    for item in network.appointments:
        request, station = requests[item.request], stations[item.station]
        technician, end = technicians[item.technician], item.start + item.minutes
        assert station.site in {choice.site for choice in request.sites}
        assert max(request.release, 0) * DAY <= item.start < network.days * DAY
        for windows in (request.available or sites[station.site].open, sites[station.site].open):
            assert any(w.start <= item.start and end <= w.end for w in windows)
        assert any(
            s.site == station.site and s.start <= item.start and end <= s.end
            for s in technician.shifts
        )
        assert all(end <= c.start or c.end <= item.start for c in station.closed)
        assert set(request.features) <= set(station.features)
        assert set(request.skills) <= set(technician.skills)


def test_appointments_take_a_station_and_a_technician_one_at_a_time(network: Network) -> None:
    for thing in ("station", "technician"):
        spans = sorted(
            (getattr(item, thing), item.start, item.start + item.minutes)
            for item in network.appointments
        )
        for (one, _, end), (other, start, _) in pairwise(spans):
            assert one != other or end <= start


def test_reserves_leave_most_of_the_room(network: Network) -> None:
    assert network.reserve
    assert all(0 < reserve.minutes <= 90 for reserve in network.reserve)
