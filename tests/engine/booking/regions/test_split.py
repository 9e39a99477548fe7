"""Regions share nothing, nothing is lost between them, and sites that share stay together.

The reference for what hangs together is NetworkX (``connected_components``), on a graph of sites,
requests, technicians and stations drawn here from the network format alone.
"""

from __future__ import annotations

from dataclasses import replace

import networkx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.booking.regions import split
from planner.engine.network import Appointment, Network, Station, Technician
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES, Size
from tests.engine.booking.build import at, network, request, site, technician
from tests.engine.booking.networks import random_network
from tests.engine.booking.regions.build import beside

KINDS = ("sites", "stations", "technicians", "requests", "care", "appointments")
SEEDS = st.lists(st.integers(0, 400), min_size=1, max_size=4)


def graph_of(whole: Network) -> networkx.Graph:
    """Sites and all that ties them."""
    graph = networkx.Graph()
    graph.add_nodes_from(("site", item.id) for item in whole.sites)
    for station in whole.stations:
        graph.add_edge(("site", station.site), ("station", station.id))
    for person in whole.technicians:
        for shift in person.shifts:
            graph.add_edge(("site", shift.site), ("technician", person.id))
    for item in whole.requests:
        for choice in item.sites:
            graph.add_edge(("site", choice.site), ("request", item.id))
    for booked in whole.appointments:
        graph.add_edge(("station", booked.station), ("technician", booked.technician))
        graph.add_edge(("station", booked.station), ("request", booked.request))
    return graph


def sites_of(graph: networkx.Graph) -> set[frozenset[str]]:
    """The sites of each component that has any."""
    found = networkx.connected_components(graph)
    named = {frozenset(name for kind, name in part if kind == "site") for part in found}
    return {part for part in named if part}


@given(seeds=SEEDS)
@settings(max_examples=40, deadline=None)
def test_regions_are_the_connected_parts_and_hold_everything_once(seeds: list[int]) -> None:
    whole = beside(*map(random_network, seeds))
    regions = split(whole, least=0)
    assert {frozenset(item.id for item in part.sites) for part in regions} == sites_of(
        graph_of(whole)
    )
    for kind in KINDS:
        names = [item.id for part in regions for item in getattr(part, kind)]
        assert sorted(names) == sorted(item.id for item in getattr(whole, kind))
    held = [item for part in regions for item in part.reserve]
    assert sorted(held, key=repr) == sorted(whole.reserve, key=repr)
    for part in regions:
        assert (part.profiles, part.policy, part.days) == (
            whole.profiles,
            whole.policy,
            whole.days,
        )


@given(seeds=SEEDS, least=st.integers(1, 40))
@settings(max_examples=40, deadline=None)
def test_small_regions_go_together_and_are_never_cut(seeds: list[int], least: int) -> None:
    whole = beside(*map(random_network, seeds))
    fine, coarse = split(whole, least=0), split(whole, least=least)
    assert len(coarse) == 1 or all(len(part.requests) >= least for part in coarse)
    for part in fine:
        names = {item.id for item in part.sites}
        assert sum(bool(names & {item.id for item in other.sites}) for other in coarse) == 1


@pytest.mark.parametrize("regions", [1, 3, 5])
def test_a_generated_network_has_the_regions_asked_for(regions: int) -> None:
    made = generate(replace(SIZES["M"], regions=regions), seed=2)
    parts = split(made)
    assert len(parts) == regions
    assert sum(len(part.requests) for part in parts) == 8000


def test_more_regions_than_sites_are_refused() -> None:
    with pytest.raises(ValueError, match="regions: expected at most 4, got 5"):
        Size(600, 4, 5, regions=5)


def two_halls(**further: object) -> Network:
    """Two sites, each with a station, a technician and a request of its own."""
    day = (at(9), at(17))
    made = network(
        (site("east", day), site("west", day)),
        (Station("e1", "east"), Station("w1", "west")),
        (technician("eva", ("east", *day)), technician("wim", ("west", *day))),
        (request("re", "m20", "east"), request("rw", "m20", "west")),
    )
    return replace(made, **further)  # type: ignore[arg-type] # fields of Network


def test_sites_that_share_nothing_are_two_regions() -> None:
    assert [[item.id for item in part.requests] for part in split(two_halls())] == [["re"], ["rw"]]


def test_one_request_that_may_go_to_either_holds_them_together() -> None:
    whole = two_halls()
    both = replace(whole, requests=(*whole.requests, request("r", "m20", "east", "west")))
    assert split(both) == (both,)


def test_one_technician_who_works_at_both_holds_them_together() -> None:
    whole = two_halls(days=2)
    roving = technician("rob", ("east", at(9), at(12)), ("west", at(9, day=1), at(12, day=1)))
    both = replace(whole, technicians=(*whole.technicians, roving))
    assert split(both) == (both,)


def test_an_appointment_holds_together_what_it_books() -> None:
    """A technician who lost all shifts may still have movable appointments at both sites."""
    idle = Technician("idle")
    booked = tuple(
        Appointment(f"a{k}", who, station, "idle", at(10), 20, False)
        for k, (who, station) in enumerate((("re", "e1"), ("rw", "w1")))
    )
    whole = two_halls()
    people = (*whole.technicians, idle)
    assert len(split(replace(whole, technicians=people, appointments=booked[:1]))) == 2
    assert len(split(replace(whole, technicians=people, appointments=booked))) == 1


def test_what_belongs_nowhere_is_in_the_first_region() -> None:
    whole = two_halls()
    lost = replace(
        whole,
        technicians=(*whole.technicians, Technician("idle")),
        requests=(*whole.requests, request("homeless", "m20")),
    )
    first, second = split(lost)
    assert {"idle"} <= {item.id for item in first.technicians}
    assert {"homeless"} <= {item.id for item in first.requests}
    assert len(second.requests) == 1


def test_a_network_without_sites_is_its_own_region() -> None:
    bare = network((), (), (), (request("r", "m20"),))
    assert split(bare) == (bare,)
