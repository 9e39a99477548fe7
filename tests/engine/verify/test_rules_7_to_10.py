"""Mutations of appointments, reserves, promises and figures: each is caught under its rule."""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan

import pytest

from planner.engine.network import Capture, Closure, Setup
from planner.engine.plan import Unbooked
from tests.engine.verify.good import (
    FULL_UP,
    NETWORK,
    PLAN,
    asked,
    at,
    booked,
    profiled,
    stationed,
    without,
)
from tests.engine.verify.spoilt import COST, Spoilt, check, name

SHORT = (10,)  # once changed it is a booking of the run, and shorter than its length
APPOINTMENTS = [
    Spoilt(
        7, "a1", "a fixed one at another time", booked(PLAN, "r1", start=at(10, 1)), follow=SHORT
    ),
    Spoilt(
        7,
        "a1",
        "a fixed one at another station",
        booked(PLAN, "r1", station="n2", start=at(10, 20)),
        follow=SHORT,
    ),
    Spoilt(
        7,
        "a1",
        "a fixed one with another technician",
        booked(PLAN, "r1", technician="t1", start=at(10, 20)),
        follow=SHORT,
    ),
    Spoilt(7, "a1", "a fixed one made longer", booked(PLAN, "r1", minutes=20)),
    Spoilt(
        7,
        "a1",
        "a fixed one dropped",
        replace(
            without(PLAN, "r1"),
            unbooked=(*PLAN.unbooked, Unbooked("r1", FULL_UP)),
        ),
        follow=COST,
    ),
    Spoilt(7, "a3", "a move not said", replace(PLAN, moved=("a9",))),
    Spoilt(7, "a9", "a drop not said", replace(PLAN, moved=("a3",))),
    Spoilt(7, "a2", "said to move, but stands", replace(PLAN, moved=("a2", "a3", "a9"))),
    Spoilt(7, "a1", "a fixed one said to move", replace(PLAN, moved=("a1", "a3", "a9"))),
    Spoilt(7, "a7", "an unknown one said to move", replace(PLAN, moved=("a3", "a7", "a9"))),
    Spoilt(7, "a3", "said twice", replace(PLAN, moved=("a3", "a3", "a9"))),
    Spoilt(7, "a2", "told another time", booked(PLAN, "r2", start=at(10, 5)), follow=COST),
]

RESERVE = [
    Spoilt(8, "north", "a booking made longer", booked(PLAN, "r8", minutes=31)),
    Spoilt(8, "r8", "its bookings are named", booked(PLAN, "r8", minutes=40)),
    Spoilt(
        8,
        "r7",
        "a booking brought into the day",
        booked(PLAN, "r7", start=at(12)),
        follow=COST,
    ),
    Spoilt(
        8,
        "north",
        "more is reserved",
        PLAN,
        replace(NETWORK, reserve=(replace(NETWORK.reserve[0], minutes=757),)),
    ),
    Spoilt(
        8,
        "north",
        "stations closed at different times",
        PLAN,
        # 910 - 90 = 820 station minutes are now the room; closed times that overlap count once
        stationed(
            NETWORK,
            "n1",
            closed=(
                Closure(at(11), at(11, 30), "calibration"),
                Closure(at(15), at(16), "dust"),
                Closure(at(15, 30), at(16, 30), "power"),
            ),
        ),
    ),
    Spoilt(
        8,
        "north",
        "a day that rework alone may have",
        PLAN,
        replace(NETWORK, reserve=(replace(NETWORK.reserve[0], minutes=5000),)),
    ),
]

LONG = Setup(70.0, 3.0)

PROMISES = [
    Spoilt(9, "r3", "p_wait overstated", booked(PLAN, "r3", p_wait=0.3)),
    Spoilt(9, "r8", "p_wait not a number", booked(PLAN, "r8", p_wait=nan)),
    Spoilt(9, "r7", "p_wait below 0", booked(PLAN, "r7", p_wait=-0.5)),
    Spoilt(9, "r5", "the session before is too long", PLAN, profiled(NETWORK, "flats", setup=LONG)),
    Spoilt(
        9,
        "n2",
        "a station ends late",
        booked(PLAN, "r8", start=at(16, 36)),
        profiled(NETWORK, "learnt", setup=LONG),
    ),
    Spoilt(
        9,
        "t2",
        "a shift ends late",
        booked(PLAN, "r3", start=at(15, 48)),
        profiled(NETWORK, "flats", setup=LONG),
    ),
    Spoilt(
        9,
        "t2",
        "retakes make a shift end late",
        booked(PLAN, "r3", start=at(15, 48)),
        profiled(NETWORK, "flats", captures=(Capture("plain", 13, 120.0, 0.5),)),
    ),
]

FIGURES = [
    Spoilt(10, "r7", "shorter than its length", booked(PLAN, "r7", minutes=11)),
    Spoilt(10, "r8", "shorter than the length there", booked(PLAN, "r8", minutes=23)),
    Spoilt(10, "r8", "of no length", booked(PLAN, "r8", minutes=0)),
    Spoilt(10, "learnt", "a length missing", replace(PLAN, lengths={"flats": 12, "full": 20})),
    Spoilt(
        10,
        "hands",
        "a length of an unknown profile",
        replace(PLAN, lengths=PLAN.lengths | {"hands": 9}),
    ),
    Spoilt(10, "learnt", "a length of 0", replace(PLAN, lengths=PLAN.lengths | {"learnt": 0})),
    Spoilt(10, "objective", "the cost understated", replace(PLAN, objective=47.0, gap=0.175)),
    Spoilt(10, "objective", "the cost overstated", replace(PLAN, objective=48.0, gap=0.2)),
    Spoilt(10, "objective", "no cost at all", replace(PLAN, objective=nan, gap=nan)),
    Spoilt(10, "objective", "a weight left out", PLAN, asked(NETWORK, "r6", weight=1.0)),
    Spoilt(10, "bound", "a bound above the cost", replace(PLAN, bound=47.2, gap=-0.1 / 47.2)),
    Spoilt(10, "bound", "an endless bound", replace(PLAN, bound=inf, gap=nan)),
    Spoilt(10, "gap", "a gap of another sum", replace(PLAN, gap=0.1507)),
    Spoilt(10, "gap", "no gap", replace(PLAN, gap=None)),
    Spoilt(10, "gap", "a gap of a bound of 0", replace(PLAN, bound=0.0, gap=0.0)),
]

ALL = [*APPOINTMENTS, *RESERVE, *PROMISES, *FIGURES]


@pytest.mark.parametrize("spoilt", ALL, ids=name)
def test_a_spoilt_plan_is_caught(spoilt: Spoilt) -> None:
    check(spoilt)
