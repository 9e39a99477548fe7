"""The rule of the day against queueing theory and a second simulator."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import ciw  # type: ignore[import-untyped]  # ciw ships no types
import numpy as np
import pytest
from scipy import optimize

from planner.engine.sessions.chain import chain_wait_exact
from planner.engine.sessions.length import session_length
from planner.engine.sessions.waits import Draws, Thing, happen, run_day
from tests.engine.sessions.build import STANDARD, bare

if TYPE_CHECKING:
    from planner.engine.network import Profile


def visits(arrivals: list[int], profile: Profile, station: int = 0) -> list[Thing]:
    """Subjects told their arrival times, at one station with its own technician."""
    return [
        Thing(t, t, station, station, 0, f"{station}/{i}", profile.id)
        for i, t in enumerate(arrivals)
    ]


def test_waits_follow_lindley_by_hand() -> None:
    """Arrivals 0, 5, 10, 15, 16 and services 7, 4, 8, 3, 2 wait 0, 2, 1, 4, 6.

    Derived by hand from Lindley's recursion (1952).
    """
    arrivals, services = [0, 5, 10, 15, 16], [7, 4, 8, 3, 2]
    things = [
        Thing(t, t, 0, -1, minutes, "", "") for t, minutes in zip(arrivals, services, strict=True)
    ]
    begun = run_day(things, Draws({}, 1, 2, "test"))
    assert [float(b[0]) - t for (b, _), t in zip(begun, arrivals, strict=True)] == [0, 2, 1, 4, 6]


@pytest.mark.parametrize("profile", [bare(24, 20), STANDARD], ids=["bare", "standard"])
def test_random_arrivals_wait_as_pollaczek_and_khinchine_say(profile: Profile) -> None:
    """M/G/1: mean wait = λ E S² / 2 (1 - load); 81.33 for λ = 1/30, mean 24, sd 20 (Lq 2.711).

    The formula is derived; the numbers 24, 20 and 30 are an exercise of Banks et al.,
    *Discrete-Event System Simulation* (from memory). The load is 0.8 in both cases.
    """
    length = session_length(profile)
    mean = length.mean_booked
    square = (1 - length.no_show) * (length.sd**2 + length.mean**2)
    gap = mean / 0.8
    theory = square / gap / (2 * (1 - 0.8))
    desks, subjects, warm = 24, 1300, 300
    rng = np.random.default_rng(11)
    draws = Draws({profile.id: profile}, 3, 40, "queue")
    means = []
    for desk in range(desks):
        arrivals = np.cumsum(rng.exponential(gap, subjects)).astype(int).tolist()
        waits = [
            float(np.mean(begin)) - thing.own
            for thing, begin, _ in happen(visits(arrivals, profile, desk), draws)
        ]
        means.append(np.mean(waits[warm:]))
    error = np.std(means, ddof=1) / math.sqrt(desks)
    assert abs(np.mean(means) - theory) < 4 * error
    assert error < 0.1 * theory


def dm1_wait(rho: float) -> float:
    """Mean wait of D/M/1 in service times: s / (1 - s), s = exp(-(1 - s) / rho) (derived)."""
    s = optimize.brentq(lambda s: math.exp(-(1 - s) / rho) - s, 1e-9, 1 - 1e-6)
    return float(s / (1 - s))


def test_even_arrivals_wait_as_in_dm1() -> None:
    """D/M/1 at a load of 0.8: mean wait 1.69273 service times (derived, root of a fixed point)."""
    theory = dm1_wait(0.8)
    assert theory == pytest.approx(1.6927308, abs=1e-6)
    profile = bare(100, 100)
    chain = visits([125 * i for i in range(500)], profile)
    exact = chain_wait_exact(chain, {profile.id: profile})
    assert exact[-1].mean / 100 == pytest.approx(theory, abs=2e-4)
    n = 1500
    late = np.zeros(n)
    for thing, begin, _ in list(happen(chain, Draws({profile.id: profile}, 3, n, "queue")))[300:]:
        late += (begin - thing.own) / 200
    assert abs(np.mean(late) / 100 - theory) < 4 * np.std(late) / math.sqrt(n) / 100


def test_a_second_simulator_sees_the_same_waits() -> None:
    """ciw, given the same arrivals and the same drawn lengths, has every subject wait as long."""
    rng = np.random.default_rng(2)
    arrivals = np.cumsum(rng.integers(1, 40, 120)).tolist()
    draws = Draws({STANDARD.id: STANDARD}, 9, 1, "queue")
    chain = visits(arrivals, STANDARD)
    services = [float(draws.of(thing.key, thing.profile)[0]) for thing in chain]
    gaps = np.diff(arrivals, prepend=0).astype(float).tolist()
    network = ciw.create_network(
        arrival_distributions=[ciw.dists.Sequential([*gaps, 1e9])],
        service_distributions=[ciw.dists.Sequential(services)],
        number_of_servers=[1],
    )
    simulation = ciw.Simulation(network)
    simulation.simulate_until_max_customers(len(arrivals), method="Finish")
    records = sorted(simulation.get_all_records(), key=lambda record: record.arrival_date)
    ours = [float(begin[0]) - thing.own for thing, begin, _ in happen(chain, draws)]
    assert [record.waiting_time for record in records] == pytest.approx(ours, abs=1e-6)
    assert max(ours) > 20
