"""Mutations of overlaps, care and breaks: each is caught under its rule."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.network import Closure
from planner.engine.plan import Break, CarePlaced, CareUnplaced
from planner.engine.verify import verify_undrawn
from tests.engine.verify.good import NETWORK, PLAN, at, booked, cared, rested, stationed
from tests.engine.verify.spoilt import Spoilt, check, name

C1, C2 = PLAN.care
T1, T2, T3 = PLAN.breaks
DOWN = CareUnplaced("c2", "the station is down")

OVERLAPS = [
    Spoilt(4, "n1", "two bookings at a station", booked(PLAN, "r3", start=at(9, 19))),
    Spoilt(
        4,
        "t1",
        "two bookings of a technician",
        booked(PLAN, "r3", technician="t1", start=at(15, 20)),
    ),
    Spoilt(4, "c1", "a booking and care at a station", cared(PLAN, "c1", start=at(15, 10))),
    Spoilt(4, "c1", "a booking and care of a technician", cared(PLAN, "c1", start=at(9, 41))),
    Spoilt(4, "r3", "a booking in a break", booked(PLAN, "r3", technician="t1", start=at(12, 45))),
    Spoilt(
        4,
        "c1",
        "care in a break",
        cared(PLAN, "c1", start=at(12, 35), technician="t1"),
    ),
    Spoilt(
        4,
        "c2",
        "care without a technician on a booking",
        cared(PLAN, "c2", start=at(9, 45, day=1)),
    ),
    Spoilt(
        4,
        "r4",
        "the same start",
        replace(PLAN, care=(C1, replace(C2, start=at(10, day=1)))),
        follow=(9,),
    ),
]

CARE = [
    Spoilt(5, "c1", "neither placed nor unplaced", replace(PLAN, care=(C2,))),
    Spoilt(
        5,
        "c1",
        "placed twice",
        replace(PLAN, care=(C1, C2, replace(C1, start=at(13)))),
        follow=(8,),
    ),
    Spoilt(5, "c2", "both", replace(PLAN, care_unplaced=(DOWN,))),
    Spoilt(5, "c2", "unplaced twice", replace(PLAN, care=(C1,), care_unplaced=(DOWN, DOWN))),
    Spoilt(
        5,
        "c2",
        "unplaced without a reason",
        replace(PLAN, care=(C1,), care_unplaced=(CareUnplaced("c2", " "),)),
    ),
    Spoilt(
        5, "c9", "unknown care placed", replace(PLAN, care=(*PLAN.care, CarePlaced("c9", at(9))))
    ),
    Spoilt(
        5, "c9", "unknown care unplaced", replace(PLAN, care_unplaced=(CareUnplaced("c9", "?"),))
    ),
    Spoilt(5, "c1", "after its latest day", cared(PLAN, "c1", start=at(10, day=1))),
    Spoilt(5, "c2", "before its earliest day", cared(PLAN, "c2", start=at(12))),
    Spoilt(5, "c2", "after the horizon", cared(PLAN, "c2", start=at(10, day=2))),
    Spoilt(5, "south", "the site not open", cared(PLAN, "c2", start=at(16, 31, day=1))),
    Spoilt(
        5,
        "north",
        "across two opening times that touch",
        cared(PLAN, "c1", start=at(12, 50)),
    ),
    Spoilt(
        5,
        "n2",
        "the station closed",
        PLAN,
        stationed(NETWORK, "n2", closed=(Closure(at(14, 19), at(14, 30), "dust"),)),
    ),
    Spoilt(5, "t2", "past the end of a shift", cared(PLAN, "c1", start=at(15, 50))),
    Spoilt(5, "t3", "a technician elsewhere", cared(PLAN, "c1", technician="t3")),
    Spoilt(5, "t9", "an unknown technician", cared(PLAN, "c1", technician="t9")),
    Spoilt(5, "c1", "no technician where one is needed", cared(PLAN, "c1", technician=None)),
    Spoilt(5, "t1", "a technician where none is needed", cared(PLAN, "c2", technician="t1")),
]

BREAKS = [
    Spoilt(6, "t1", "no break", replace(PLAN, breaks=(T2, T3))),
    Spoilt(
        6,
        "t1",
        "two breaks",
        replace(PLAN, breaks=(T1, T2, T3, replace(T1, start=at(13)))),
        follow=(8,),
    ),
    Spoilt(6, "t1", "too short", rested(PLAN, "t1", minutes=29)),
    Spoilt(6, "t1", "too long", rested(PLAN, "t1", minutes=31)),
    Spoilt(6, "t2", "before its window", rested(PLAN, "t2", start=at(11, 59, day=1))),
    Spoilt(6, "t2", "past its window", rested(PLAN, "t2", start=at(13, 31, day=1))),
    Spoilt(6, "t3", "outside the shift", rested(PLAN, "t3", start=at(9, 15))),
    Spoilt(
        6,
        "t1",
        "in a shift that has none",
        replace(PLAN, breaks=(*PLAN.breaks, Break("t1", at(12, day=1), 30))),
    ),
    Spoilt(
        6,
        "t3",
        "in no shift at all",
        replace(PLAN, breaks=(*PLAN.breaks, Break("t3", at(12, day=1), 15))),
    ),
    Spoilt(
        6,
        "t9",
        "of an unknown technician",
        replace(PLAN, breaks=(*PLAN.breaks, Break("t9", at(12), 15))),
    ),
    Spoilt(
        6,
        "t2",
        "of a wrong length after the horizon",
        replace(PLAN, breaks=(*PLAN.breaks, Break("t2", at(12, day=2), 15))),
    ),
]

ALL = [*OVERLAPS, *CARE, *BREAKS]


@pytest.mark.parametrize("spoilt", ALL, ids=name)
def test_a_spoilt_day_is_caught(spoilt: Spoilt) -> None:
    check(spoilt)


def test_care_left_out_with_a_reason_is_a_breach_only_where_all_must_be_placed() -> None:
    plan = replace(PLAN, care=(C1,), care_unplaced=(DOWN,))
    assert verify_undrawn(NETWORK, plan) == ()
    found = verify_undrawn(NETWORK, plan, care_may_be_unplaced=False)
    assert [(breach.rule, breach.things) for breach in found] == [(5, ("c2",))]


def test_one_long_thing_over_many_short_ones_is_told_for_each() -> None:
    """r8 made to last from 9:30 to 15:24 at n2 lies over r2 and c1; t1 has r2 and a break in it."""
    plan = booked(PLAN, "r8", start=at(9, 30), minutes=354)
    told = {breach.things for breach in verify_undrawn(NETWORK, plan) if breach.rule == 4}
    assert told == {("n2", "r8", "r2"), ("n2", "r8", "c1"), ("t1", "r8", "r2"), ("t1", "r8")}
