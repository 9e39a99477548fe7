"""The rule of the day."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from planner.engine.network import Closure, Shift, Window
from planner.engine.plan import Booking, Break
from planner.engine.sessions.chain import chain_wait_exact
from planner.engine.sessions.waits import (
    Draws,
    Outcome,
    Thing,
    assess,
    breaks_promise,
    plan_things,
    run_day,
)
from planner.engine.units import DAY
from tests.engine.sessions.build import STANDARD, WORN, book, fixed, one_desk, promise

# Seven sessions; between them a closed time at 540 and a break at 620.
STARTS = {"a": 480, "b": 498, "c": 516, "d": 580, "e": 598, "f": 646, "g": 664}


if TYPE_CHECKING:
    from collections.abc import Mapping


def run(things: list[Thing]) -> list[tuple[float, float]]:
    """Begin and end of each of some things of fixed length."""
    return [(float(b[0]), float(e[0])) for b, e in run_day(things, Draws({}, 1, 1, "test"))]


def judge(network_of: Mapping[str, Any], bookings: list[Booking], n: int = 1) -> Outcome:
    network = one_desk(**network_of)
    return assess(network, bookings, [], [], draws_n=n, seed=1, purpose="test")


def test_a_thing_waits_for_its_station_and_its_technician() -> None:
    assert run(
        [
            Thing(0, 0, 0, 0, 30, "", ""),
            Thing(5, 5, 1, 1, 50, "", ""),
            Thing(10, 10, 0, 1, 10, "", ""),  # station free at 30, technician at 55
            Thing(12, 12, 1, -1, 5, "", ""),  # station free at 55
            Thing(15, 15, -1, 0, 5, "", ""),  # technician free at 30
            Thing(90, 90, 0, 0, 5, "", ""),  # on time
        ]
    ) == [(0, 30), (5, 55), (55, 65), (55, 60), (30, 35), (90, 95)]


def test_order_is_by_planned_start_even_where_the_told_time_is_earlier() -> None:
    """The break planned at 11 comes first, the session told 10 and planned 12 after it."""
    things = [Thing(11, 11, -1, 0, 20, "", ""), Thing(12, 10, 0, 0, 5, "", "")]
    assert run(things) == [(11, 31), (31, 36)]


def test_a_late_closed_time_takes_all_its_minutes() -> None:
    things = [Thing(0, 0, 0, 0, 30, "", ""), Thing(20, 20, 0, -1, 15, "", "")]
    assert run(things) == [(0, 30), (30, 45)]


def test_a_no_show_takes_no_time_but_still_waits() -> None:
    kinds = (fixed(40, "long"), fixed(10, "absent", no_show=1.0))
    network = one_desk(kinds, {"a": "long", "b": "absent", "c": "long"})
    outcome = assess(
        network,
        [book("a", 480), book("b", 500), book("c", 519)],
        [],
        [],
        draws_n=10,
        seed=1,
        purpose="test",
    )
    assert outcome.p_wait == {"a": 0.0, "b": 1.0, "c": 0.0}  # 20 late; 5 late (told 515)


def test_a_wait_of_exactly_the_promised_minutes_is_kept() -> None:
    kinds = {"profiles": (fixed(35),), "requests": {"a": "fixed", "b": "fixed"}}
    assert judge(kinds, [book("a", 480), book("b", 500)]).p_wait["b"] == 0.0
    assert judge(kinds, [book("a", 481), book("b", 499)]).p_wait["b"] == 1.0


def test_overtime_counts_from_the_end_of_the_last_opening_time() -> None:
    kinds = {
        "profiles": (fixed(60),),
        "requests": {"a": "fixed", "b": "fixed"},
        "opens": (Window(480, 600), Window(660, 720), Window(DAY + 480, DAY + 540)),
    }
    outcome = judge(kinds, [book("a", 570), book("b", DAY + 506)])
    assert outcome.station_overtime == {("desk", 0): 0.0, ("desk", 1): 1.0}
    assert outcome.shift_overtime == {("tech", 0): 1.0, ("tech", 2): 1.0}


def test_overtime_of_exactly_the_promised_minutes_is_kept() -> None:
    kinds = {"profiles": (fixed(60),), "requests": {"a": "fixed"}}
    assert judge(kinds, [book("a", 920)]).station_overtime == {("desk", 0): 0.0}
    assert judge(kinds, [book("a", 925)]).station_overtime == {("desk", 0): 1.0}


def test_a_break_can_be_the_last_thing_of_a_shift() -> None:
    network = one_desk((fixed(30),), {"a": "fixed"}, policy=promise(15, 0.1, 0, 0.05))
    for minutes, late in ((30, 0.0), (31, 1.0)):
        outcome = assess(
            network,
            [book("a", 900)],
            [],
            [Break("tech", 930, minutes)],
            draws_n=3,
            seed=1,
            purpose="test",
        )
        assert outcome.shift_overtime == {("tech", 0): late}
        assert outcome.station_overtime == {("desk", 0): 0.0}


def test_a_day_open_till_midnight_runs_on_into_the_next() -> None:
    kinds = {
        "profiles": (fixed(90),),
        "requests": {"a": "fixed", "b": "fixed"},
        "opens": (Window(1200, DAY), Window(DAY, DAY + 300)),
    }
    outcome = judge(kinds, [book("a", DAY - 30), book("b", DAY + 30)])
    assert outcome.p_wait == {"a": 0.0, "b": 1.0}
    assert outcome.station_overtime == {("desk", 0): 1.0, ("desk", 1): 0.0}


def test_plans_that_break_other_rules_are_still_judged() -> None:
    kinds = {"profiles": (fixed(30),), "requests": {"a": "fixed", "b": "fixed"}}
    stray = replace(book("a", 500), request="nobody")
    outcome = judge(kinds, [stray, book("a", 480), book("b", 480), book("b", 5 * DAY)])
    assert outcome.p_wait == {"a": 0.0, "b": 1.0}
    assert outcome.station_overtime == {("desk", 0): 0.0}


def test_nothing_booked_risks_nothing() -> None:
    outcome = judge({"profiles": (), "requests": {}}, [])
    assert (outcome.p_wait, outcome.station_overtime, outcome.shift_overtime) == ({}, {}, {})


def test_drawn_waits_match_the_exact_chain() -> None:
    """One desk, one technician, a closed time and a break among seven sessions of two kinds."""
    kinds = {kind.id: kind for kind in (STANDARD, WORN)}
    network = one_desk(
        (STANDARD, WORN),
        {key: "worn" if key in "be" else "usual" for key in STARTS},
        closed=(Closure(540, 580, "calibration"),),
    )
    bookings = [book(key, start, 18) for key, start in STARTS.items()]
    breaks = [Break("tech", 620, 25)]
    n = 20_000
    drawn = assess(network, bookings, [], breaks, draws_n=n, seed=6, purpose="test").p_wait
    things = plan_things(network, bookings, [], breaks)
    # A session waits for desk and technician alike, so the closed time and the break hold up both.
    chain = [replace(t, station=0, technician=0) for t in things]
    delays = chain_wait_exact(chain, kinds)
    for thing, delay in zip(chain, delays, strict=True):
        if thing.key:
            p = delay.over(15)
            assert abs(drawn[thing.key] - p) < 4 * math.sqrt(p * (1 - p) / n) + 1e-9
    assert max(drawn.values()) > 0.02


def test_a_chain_must_hang_together() -> None:
    with pytest.raises(ValueError, match="thing 1 shares"):
        chain_wait_exact([Thing(0, 0, 0, -1, 5, "", ""), Thing(5, 5, 1, 0, 5, "", "")], {})


def test_a_moved_booking_keeps_its_luck() -> None:
    """Moved to a morning of its own, b meets the waits it would have met anywhere."""
    network = one_desk((STANDARD,), {"a": "usual", "b": "usual", "c": "usual"})
    early = [book("a", 480), book("b", 498), book("c", 516)]
    late = [book("a", 780), book("b", 798), book("c", 816)]
    first, second = (
        assess(network, plan, [], [], draws_n=2000, seed=1, purpose="test").p_wait
        for plan in (early, late)
    )
    assert first == second


def test_a_promise_is_broken_only_beyond_four_standard_errors() -> None:
    limit = 0.1 + 4 * math.sqrt(0.1 * 0.9 / 400)
    assert not breaks_promise(limit, 0.1, 400)
    assert breaks_promise(limit + 1e-9, 0.1, 400)
    assert breaks_promise(0.01, 0.0, 400)
    assert not breaks_promise(1.0, 1.0, 400)


def test_shifts_are_judged_by_what_was_planned_in_them() -> None:
    """The thing that began as the last of the morning shift is not counted in the afternoon's."""
    network = one_desk((fixed(60),), {"a": "fixed", "b": "fixed"})
    halves = (Shift("site", 480, 720, 0, 480, 720), Shift("site", 720, 960, 0, 720, 960))
    network = replace(network, technicians=(replace(network.technicians[0], shifts=halves),))
    outcome = assess(
        network, [book("a", 700), book("b", 880)], [], [], draws_n=2, seed=1, purpose="test"
    )
    assert outcome.shift_overtime == {("tech", 0): 1.0, ("tech", 1): 0.0}
