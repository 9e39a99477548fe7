"""Tiny networks against every plan there is, listed one by one (derived; `brute`)."""

from __future__ import annotations

import random

import pytest

from planner.engine.booking import Options
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Care, Closure, Network, Request, Reserve, SiteChoice, Station
from planner.engine.network import Window as Free
from planner.engine.plan import Plan
from planner.engine.sessions.planned import planned_minutes
from tests.engine.booking.brute import Search
from tests.engine.booking.build import (
    at,
    certain_profile,
    network,
    one_desk,
    plan_and_proof,
    request,
    rested,
    site,
    technician,
)
from tests.engine.monolith import solve_monolith

PROFILES = tuple(certain_profile(minutes) for minutes in (10, 20, 30))
SEEDS = range(30)
NEARLY_ALL = 0.9
"""At least this share of plans must be optimal; 0.95 of 193 was measured (183, seeds 0 to 199)."""


def lengths_of(given: Network) -> dict[str, int]:
    return {item.id: planned_minutes(item, given.policy, given.grain) for item in given.profiles}


def tiny(seed: int) -> Network:
    """One or two sites and days of 40 to 70 minutes, 2 to 5 requests; all in tens of minutes."""
    rng = random.Random(seed)
    days = rng.choice([1, 1, 2])
    names = ["hall", "quay"][: rng.choice([1, 1, 2])]
    spans = {
        name: [
            (at(9, day=day), at(9, rng.choice([40, 50, 60, 70]), day=day)) for day in range(days)
        ]
        for name in names
    }
    people = [
        technician(
            f"t{k}",
            *(
                rested(name, *span, rng.choice([0, 10, 10]))
                for span in spans[name]
                if rng.random() < 0.9
            ),
            skills=rng.choice([(), ("signing",)]),
        )
        for k, name in enumerate(rng.choices(names, k=rng.choice([1, 2])))
    ]
    stations = tuple(
        Station(
            f"d{k}",
            rng.choice(names),
            rng.choice([(), ("lift",)]),
            (Closure(at(9, 20), at(9, 30), "downtime"),) * rng.choice([0, 0, 1]),
        )
        for k in range(rng.choice([1, 2]))
    )
    care = tuple(
        Care("wipe", stations[0].id, 10, 0, days - 1, technician=rng.random() < 0.5)
        for _ in range(rng.choice([0, 0, 1]))
    )
    reserve = tuple(Reserve(names[0], 0, 20) for _ in range(rng.choice([0, 0, 1])))
    return network(
        tuple(site(name, *spans[name]) for name in names),
        stations,
        tuple(people),
        tuple(_request(rng, k, names) for k in range(rng.choice([2, 3, 4, 5]))),
        profiles=PROFILES,
        days=days,
        care=care,
        reserve=reserve,
    )


def _request(rng: random.Random, k: int, names: list[str]) -> Request:
    where = [SiteChoice(name, rng.choice([0, 10, 40])) for name in names if rng.random() < 0.8]
    free = Free(at(9, rng.choice([0, 10])), at(9, rng.choice([30, 40, 60])))
    return request(
        f"r{k}",
        rng.choice(["m10", "m20", "m30"]),
        *where,
        weight=rng.choice([0.5, 1.0, 2.0]),
        rework=rng.random() < 0.2,
        available=(free,) * rng.choice([0, 0, 1]),
        features=rng.choice([(), (), ("lift",)]),
        skills=rng.choice([(), (), ("signing",)]),
    )


def tried(given: Network) -> tuple[Plan, float] | None:
    """The plan and its bound, or None where the network is impossible."""
    try:
        return plan_and_proof(given, Options(effort=1))
    except NetworkImpossible:
        return None


def test_plans_of_tiny_networks_lie_between_optimum_and_bound_and_mostly_reach_it() -> None:
    """Cost >= optimum >= bound on every network; equal to the optimum on nearly all of them."""
    reached, possible = 0, 0
    for seed in SEEDS:
        given = tiny(seed)
        assert lengths_of(given) == {"m10": 10, "m20": 20, "m30": 30}
        optimum = Search(given, lengths_of(given)).optimum()
        result = tried(given)
        assert (result is None) == (optimum == float("inf")), seed
        if result is None:
            continue
        found, proven = result
        possible += 1
        assert found.objective >= optimum - 1e-6, seed
        assert proven <= optimum + 1e-6, seed
        reached += found.objective <= optimum + 1e-6
    assert possible >= 25
    assert reached >= NEARLY_ALL * possible


@pytest.mark.parametrize("seed", range(30))
def test_the_two_oracles_agree(seed: int) -> None:
    """Listing every plan and solving one CP-SAT model give the same optimum."""
    given = tiny(100 + seed)
    optimum = Search(given, lengths_of(given)).optimum()
    best = solve_monolith(given, lengths_of(given), effort=20.0)
    if best is None:
        assert optimum == float("inf")
    else:
        assert best.optimal
        assert best.cost == pytest.approx(optimum, abs=1e-6)


BY_HAND = {
    "two of three fit, the lightest stays out": (
        one_desk(
            tuple(request(f"r{k}", "m20", "hall", weight=w) for k, w in enumerate((1.0, 0.5, 2.0))),
            at(9), at(9, 40),
        ),
        15.0,
    ),
    "30 + 10 beat 20 + 20 by weight": (
        one_desk(
            (
                request("a", "m30", "hall", weight=3.0),
                request("b", "m10", "hall"),
                request("c", "m20", "hall"),
                request("d", "m20", "hall"),
            ),
            at(9), at(9, 40), profiles=PROFILES,
        ),
        60.0,
    ),
    "a break of ten minutes costs one booking": (
        network(
            (site("hall", (at(9), at(10))),),
            (Station("desk", "hall"),),
            (technician("anna", rested("hall", at(9), at(10), 10)),),
            tuple(request(f"r{k}", "m20", "hall") for k in range(3)),
        ),
        30.0,
    ),
    "travel of 50 minutes is dearer than a day's wait": (
        network(
            (site("hall", (at(9), at(9, 20)), (at(9, day=1), at(9, 20, day=1))),
             site("quay", (at(9), at(9, 20)))),
            (Station("desk", "hall"), Station("berth", "quay")),
            (technician("anna", ("hall", at(9), at(10)), ("hall", at(9, day=1), at(10, day=1))),
             technician("ben", ("quay", at(9), at(10)))),
            tuple(request(f"r{k}", "m20", SiteChoice("hall", 0), SiteChoice("quay", 50))
                  for k in range(2)),
            days=2,
        ),
        0.1,
    ),
    "two stations and one pair of hands": (
        network(
            (site("hall", (at(9), at(9, 40))),),
            (Station("d0", "hall"), Station("d1", "hall")),
            (technician("anna", ("hall", at(9), at(9, 40))),),
            tuple(request(f"r{k}", "m20", "hall") for k in range(3)),
        ),
        30.0,
    ),
}  # fmt: skip


@pytest.mark.parametrize("why", BY_HAND)
def test_a_plan_by_hand_is_found(why: str) -> None:
    given, cost = BY_HAND[why]
    result = tried(given)
    assert result is not None
    assert result[0].objective == pytest.approx(cost, abs=1e-6)
    assert Search(given, lengths_of(given)).optimum() == pytest.approx(cost, abs=1e-6)
