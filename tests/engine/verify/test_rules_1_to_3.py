"""Mutations of who is booked, where and when: each is caught under its rule."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.network import Closure
from planner.engine.plan import Reason, Unbooked
from tests.engine.verify.good import (
    FULL_UP,
    NETWORK,
    PLAN,
    asked,
    at,
    booked,
    stationed,
    without,
)
from tests.engine.verify.spoilt import COST, Spoilt, also, check, name

R3, R6, R9 = PLAN.bookings[2], PLAN.unbooked[0], PLAN.unbooked[1]


ONCE_OR_UNBOOKED = [
    Spoilt(1, "r3", "booked twice", also(replace(R3, start=at(13), told=at(13))), follow=(8,)),
    Spoilt(1, "r8", "neither booked nor unbooked", without(PLAN, "r8"), follow=COST),
    Spoilt(1, "r8", "both", replace(PLAN, unbooked=(*PLAN.unbooked, Unbooked("r8", FULL_UP)))),
    Spoilt(1, "r6", "no reason", replace(PLAN, unbooked=(Unbooked("r6", ()), R9))),
    Spoilt(
        1,
        "r6",
        "a reason without a code",
        replace(PLAN, unbooked=(Unbooked("r6", (Reason("", "", ""),)), R9)),
    ),
    Spoilt(1, "r6", "unbooked twice", replace(PLAN, unbooked=(R6, R6, R9))),
    Spoilt(
        1,
        "r99",
        "an unknown request booked",
        also(replace(R3, request="r99", start=at(13), told=at(13))),
    ),
    Spoilt(
        1,
        "r99",
        "an unknown request unbooked",
        replace(PLAN, unbooked=(*PLAN.unbooked, Unbooked("r99", FULL_UP))),
    ),
]

PLACE_AND_TIME = [
    Spoilt(
        1,
        "south",
        "at a site that is none of its own",
        booked(PLAN, "r7", site="south", station="s1", technician="t1"),
        follow=COST,
    ),
    Spoilt(1, "south", "the site is not the station's", booked(PLAN, "r3", site="south")),
    Spoilt(1, "west", "an unknown site", booked(PLAN, "r3", site="west")),
    Spoilt(1, "n9", "an unknown station", booked(PLAN, "r8", station="n9")),
    Spoilt(
        1,
        "r7",
        "after the horizon",
        booked(PLAN, "r7", start=at(9, day=2)),
        follow=(3, 10),
    ),
    Spoilt(
        1,
        "r8",
        "before the horizon",
        booked(PLAN, "r8", start=at(15, day=-1)),
        follow=(3,),
    ),
    Spoilt(1, "r8", "before its release", PLAN, asked(NETWORK, "r8", release=1)),
    Spoilt(1, "r5", "across two available times", booked(PLAN, "r5", start=at(11, 50))),
    Spoilt(1, "r5", "after its available times", booked(PLAN, "r5", start=at(15))),
    Spoilt(1, "r3", "told too early", booked(PLAN, "r3", told=at(9, 5))),
    Spoilt(1, "r3", "told a time off the grain", booked(PLAN, "r3", told=at(9, 12))),
]

FEATURES_AND_SKILLS = [
    Spoilt(2, "n2", "the feature is missing", booked(PLAN, "r5", station="n2")),
    Spoilt(2, "s1", "another feature is missing", PLAN, asked(NETWORK, "r4", features=("quiet",))),
    Spoilt(2, "t1", "the request's skill is missing", PLAN, asked(NETWORK, "r2", skills=("x",))),
    Spoilt(2, "t2", "the profile's skill there is missing", booked(PLAN, "r8", technician="t2")),
    Spoilt(
        2,
        "t2",
        "a fixed appointment without its skill",
        PLAN,
        asked(NETWORK, "r1", skills=("sign_language",)),
    ),
]

OPEN_AND_ON_SHIFT = [
    Spoilt(
        3,
        "north",
        "before the site opens",
        booked(PLAN, "r7", start=at(8, 59, day=1)),
    ),
    Spoilt(3, "north", "across two opening times that touch", booked(PLAN, "r3", start=at(12, 55))),
    Spoilt(
        3,
        "south",
        "past closing time",
        booked(PLAN, "r4", start=at(16, 50, day=1)),
    ),
    Spoilt(3, "n1", "into a closed time", booked(PLAN, "r3", start=at(10, 49))),
    Spoilt(3, "n1", "out of a closed time", booked(PLAN, "r3", start=at(11, 29))),
    Spoilt(
        3,
        "n1",
        "around a closed time",
        PLAN,
        stationed(NETWORK, "n1", closed=(Closure(at(9, 15), at(9, 16), "dust"),)),
    ),
    Spoilt(
        3,
        "n2",
        "inside one of two closed times that overlap",
        PLAN,
        stationed(
            NETWORK,
            "n2",
            closed=(Closure(at(10), at(10, 5), "dust"), Closure(at(10, 3), at(10, 10), "power")),
        ),
    ),
    Spoilt(3, "t3", "a technician of another site", booked(PLAN, "r3", technician="t3")),
    Spoilt(3, "t2", "past the end of a shift", booked(PLAN, "r3", start=at(15, 50))),
    Spoilt(3, "t1", "a technician off shift", booked(PLAN, "r7", technician="t1")),
    Spoilt(3, "t9", "an unknown technician", booked(PLAN, "r3", technician="t9")),
]

ALL = [*ONCE_OR_UNBOOKED, *PLACE_AND_TIME, *FEATURES_AND_SKILLS, *OPEN_AND_ON_SHIFT]


@pytest.mark.parametrize("spoilt", ALL, ids=name)
def test_a_spoilt_booking_is_caught(spoilt: Spoilt) -> None:
    check(spoilt)
