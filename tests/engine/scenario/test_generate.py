"""Generated networks are sound, dense, loaded as asked, and the same for the same seed."""

from __future__ import annotations

from collections import defaultdict
from math import sqrt
from typing import TYPE_CHECKING

import pytest

from planner.engine.codec import decode_network, encode_network
from planner.engine.scenario.describe import describe
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES, Size
from planner.engine.units import DAY

if TYPE_CHECKING:
    from planner.engine.network import Network

S, M = SIZES["S"], SIZES["M"]


@pytest.fixture(scope="module")
def middling() -> Network:
    return generate(M, seed=1)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("size", ["S", "M"])
@pytest.mark.parametrize("load", [0.8, 1.0, 1.5])
def test_load_is_what_was_asked_for(size: str, seed: int, load: float) -> None:
    found = describe(generate(SIZES[size], seed=seed, load=load)).total()
    assert found.load == pytest.approx(load, rel=0.05)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_station_day_holds_20_to_25_sessions(seed: int) -> None:
    density = describe(generate(M, seed=seed)).density()
    assert density is not None
    assert 20 <= density <= 25


@pytest.mark.parametrize("size", ["S", "M"])
def test_the_size_gives_requests_sites_and_days(size: str) -> None:
    network = generate(SIZES[size])
    made = Size(len(network.requests), len(network.sites), network.days)
    assert made == SIZES[size]


def test_a_network_survives_its_file(middling: Network) -> None:
    data = encode_network(middling)
    assert decode_network(data) == middling


def test_the_same_seed_gives_the_same_bytes_and_another_does_not() -> None:
    first, again, other = (encode_network(generate(S, seed=seed)) for seed in (5, 5, 6))
    assert first == again
    assert first != other


def test_nobody_works_and_nothing_is_open_at_weekends(middling: Network) -> None:
    shifts = [shift for technician in middling.technicians for shift in technician.shifts]
    assert middling.first_day.weekday() == 0
    days = {w.start // DAY for site in middling.sites for w in site.open}
    assert days | {shift.start // DAY for shift in shifts} == {0, 1, 2, 3, 4, 7, 8, 9}


def test_technicians_are_as_many_as_stations_or_a_few_less(middling: Network) -> None:
    assert 0.85 <= len(middling.technicians) / len(middling.stations) <= 1


def test_somebody_travels_but_is_at_one_site_a_day(middling: Network) -> None:
    homes = [len({s.site for s in t.shifts}) for t in middling.technicians]
    assert max(homes) == 2
    for technician in middling.technicians:
        days = [shift.start // DAY for shift in technician.shifts]
        assert len(days) == len(set(days))


def test_sites_differ_in_size_and_in_load() -> None:
    sites = describe(generate(SIZES["L"], seed=1)).sites
    loads = [site.load for site in sites if site.load is not None]
    assert min(site.stations for site in sites) == 1
    assert max(site.stations for site in sites) >= 10
    assert sum(load > 1.1 for load in loads) >= 3
    assert sum(load < 0.9 for load in loads) >= 3


def test_shares_of_rework_and_wishes_are_the_stated_ones(middling: Network) -> None:
    # Each share is a sum of independent draws: within 4 standard errors of sqrt(p (1 - p) / n).
    requests = middling.requests
    for p, count in (
        (0.04, sum(r.rework for r in requests)),
        (0.25, sum(bool(r.available) for r in requests)),
        (0.05, sum(bool(r.features) for r in requests)),
    ):
        assert abs(count / len(requests) - p) < 4 * sqrt(p * (1 - p) / len(requests))


def test_what_a_request_needs_is_to_be_had_at_one_of_its_sites(middling: Network) -> None:
    features: dict[str, set[str]] = defaultdict(set)
    skills: dict[str, set[str]] = defaultdict(set)
    for station in middling.stations:
        features[station.site].update(station.features)
    for technician in middling.technicians:
        for shift in technician.shifts:
            skills[shift.site].update(technician.skills)
    wants = [r for r in middling.requests if r.features or r.skills]
    assert wants
    for request in wants:
        assert any(set(request.features) <= features[c.site] for c in request.sites)
    lost = sum(all(not set(r.skills) <= skills[c.site] for c in r.sites) for r in wants)
    # Leave is drawn after the requests, and may take a site its only skilled technician.
    assert lost <= 0.01 * len(wants)


def test_learnt_profiles_are_used_at_some_sites(middling: Network) -> None:
    used = {choice.profile for r in middling.requests for choice in r.sites}
    assert used - {None} <= {profile.id for profile in middling.profiles}
    assert len(used) >= 3


@pytest.mark.parametrize(
    ("size", "load", "word"),
    [
        (Size(600, 100, 5), 1.0, "fewer sites"),
        (Size(8000, 2, 5), 1.0, "at least"),
        (Size(600, 4, 5), 0.0, "above 0"),
        (Size(600, 4, 5), float("nan"), "above 0"),
    ],
)
def test_what_does_not_go_together_is_refused(size: Size, load: float, word: str) -> None:
    with pytest.raises(ValueError, match=word):
        generate(size, load=load)


@pytest.mark.parametrize("name", ["requests", "sites", "days", "regions"])
def test_a_size_is_at_least_one_of_everything(name: str) -> None:
    with pytest.raises(ValueError, match=f"{name}: expected at least 1, got 0"):
        Size(**({"requests": 1, "sites": 1, "days": 1} | {name: 0}))
