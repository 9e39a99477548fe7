"""Tables of lengths: shorter ones hold more people where room is scarce, and only there."""

from __future__ import annotations

import numpy as np
import pytest

from planner.engine.booking import Options, plan
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.lengths.choose import Expected, Trial, choose, try_tables
from planner.engine.booking.lengths.fill import ASKED, LARGEST, sampled_days
from planner.engine.booking.lengths.practice import in_practice
from planner.engine.booking.lengths.tables import Table, length_tables
from planner.engine.booking.problem import build_problem
from planner.engine.network import Network, Station
from planner.engine.plan import Plan
from planner.engine.sessions.length import session_length
from planner.engine.sessions.planned import planned_minutes
from planner.engine.verify import verify
from tests.engine.booking.build import (
    FULL,
    USUAL,
    at,
    certain_profile,
    network,
    request,
    rested,
    site,
    technician,
)


def hall(people: int) -> Network:
    """One station and one technician from eight to half past four, with a break of 30 minutes."""
    return network(
        (site("hall", (at(8), at(16, 30))),),
        (Station("desk", "hall"),),
        (technician("anna", rested("hall", at(8), at(16, 30), 30, (at(11, 30), at(13, 30)))),),
        tuple(request(f"r{k:02}", "full", "hall", due=0) for k in range(people)),
        profiles=(FULL,),
        policy=USUAL,
    )


def sound(given: Network, found: Plan) -> bool:
    return verify(given, found, draws=20_000, seed=4, care_may_be_unplaced=False) == ()


def test_tables_get_shorter_and_begin_with_the_planned_minutes() -> None:
    tables = length_tables(hall(1))
    assert tables[0].minutes == {"full": planned_minutes(FULL, USUAL, 5)} == {"full": 18}
    minutes = [table.minutes["full"] for table in tables]
    assert minutes == sorted(set(minutes), reverse=True)


def test_a_certain_length_has_one_table() -> None:
    given = network((site("hall", (at(8), at(12))),), (), (), (), profiles=(certain_profile(20),))
    assert length_tables(given) == [Table(12, {"m20": 20})]


def test_a_full_day_holds_more_people_than_planned_minutes_allow() -> None:
    """480 minutes without the break hold 26 sessions of 18 minutes, by division; here 27."""
    given = hall(40)
    found = plan(given, Options(effort=2))
    assert found.lengths["full"] < 18
    assert len(found.bookings) > (at(16, 30) - at(8) - 30) // 18
    assert sound(given, found)


def test_nobody_waits_for_nothing_where_there_is_room() -> None:
    given = hall(12)
    found = plan(given, Options(effort=1))
    assert found.lengths["full"] == 18
    assert len(found.bookings) == 12
    assert sound(given, found)


def test_the_longest_lengths_within_the_margin_are_chosen() -> None:
    """The cost falls by 10 for every hundredth of the share; nearly all of it is scarce room."""
    trials = [Trial(Table(row, {}), share) for row, share in ((12, 0.8), (6, 0.8995), (3, 0.9))]
    asked: list[float] = []

    def expect(share: float, near: Expected | None) -> Expected:
        asked.append(share)
        assert near is None or near.cost == 1000.0
        return Expected(1000.0 + 1000.0 * (0.9 - share), 900.0, np.zeros(0))

    found, cost = choose(trials, expect)
    assert found.table.row == 6
    assert cost is not None
    assert cost.cost == pytest.approx(1000.5)
    assert asked == [0.9, 0.8995]  # the tangent rules the first out: 900 · log(0.9 / 0.8) is 106


def test_where_no_day_is_full_planned_minutes_stand() -> None:
    trials = [Trial(Table(row, {}), 0.0) for row in (12, 3)]

    def expect(share: float, near: Expected | None) -> Expected:
        raise AssertionError((share, near))

    found, cost = choose(trials, expect)
    assert (found.table.row, found.share, cost) == (12, 0.0, None)


def test_a_trial_says_what_share_of_the_room_sessions_fill() -> None:
    """Planned minutes of 18 for a mean of 15.77 fill at most 0.876 of a row without gaps."""
    given = hall(40)
    tables = length_tables(given)
    problem = build_problem(given, tables[0].minutes)
    trials = try_tables(problem, build_options(problem), tables, guard=0.7, seed=1)
    shares = [trial.share for trial in trials]
    mean = session_length(FULL).mean_booked
    assert 0.8 < shares[0] <= mean / 18
    assert max(shares[1:]) > shares[0]


def test_a_network_of_large_sites_alone_is_sampled_too() -> None:
    """Nine stations and technicians for eight hours: more minutes than a sampled day has."""
    given = network(
        (site("hall", (at(8), at(16))),),
        tuple(Station(f"d{k}", "hall") for k in range(9)),
        tuple(technician(f"t{k}", ("hall", at(8), at(16))) for k in range(9)),
        tuple(request(f"r{k:03}", "full", "hall", due=0) for k in range(340)),
        profiles=(FULL,),
        policy=USUAL,
    )
    problem = build_problem(given, {"full": 18})
    assert LARGEST < 9 * 480
    ((g, asking),) = sampled_days(problem, build_options(problem), 1)
    assert g == 0
    assert len(asking) * 18 >= ASKED * 9 * 480


@pytest.mark.parametrize("share", [0.5, 0.9])
def test_in_practice_a_session_takes_its_mean_over_the_share(share: float) -> None:
    given = hall(3)
    problem = build_problem(given, {"full": 18})
    options = build_options(problem)
    held = in_practice(problem, options, share)
    assert np.allclose(held.minutes, session_length(FULL).mean_booked / share)
    assert (options.minutes == 18).all()
