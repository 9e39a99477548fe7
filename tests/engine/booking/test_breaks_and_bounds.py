"""Breaks at the edges of shifts and of the horizon; and rows that must not say too much."""

from __future__ import annotations

import pytest

from planner.engine.booking import Options, plan
from planner.engine.network import Appointment, Care, Network, Reserve, Shift, Station
from planner.engine.verify import verify
from tests.engine.booking.build import (
    at,
    network,
    one_desk,
    plan_and_proof,
    request,
    rested,
    site,
    technician,
)

WINDOWS = {
    "the window is wider than the shift": Shift("hall", at(9), at(17), 15, at(8), at(18)),
    "the window begins before the shift": Shift("hall", at(9), at(17), 15, at(8), at(9, 15)),
    "the window ends after the shift": Shift("hall", at(9), at(17), 15, at(16, 45), at(18)),
    "the break is the whole shift": rested("hall", at(9), at(9, 15), 15),
    "the break lies before opening": rested("hall", at(7), at(17), 30, (at(7), at(9))),
}


def sound_plan(given: Network) -> list[int]:
    """Starts of the breaks of a plan that its judge passes."""
    found = plan(given, Options(effort=1))
    assert verify(given, found, draws=500, seed=1, care_may_be_unplaced=False) == ()
    return [rest.start for rest in found.breaks]


@pytest.mark.parametrize("why", WINDOWS)
def test_a_break_lies_inside_both_its_window_and_its_shift(why: str) -> None:
    """Rule 6; a window may only overlap its shift where the break fits what they share."""
    shift = WINDOWS[why]
    given = network(
        (site("hall", (at(9), at(17))),),
        (Station("desk", "hall"),),
        (technician("anna", shift), technician("ben", ("hall", at(9), at(17)))),
        tuple(request(f"r{k}", "m20", "hall") for k in range(4)),
    )
    (start,) = sound_plan(given)
    assert max(shift.start, shift.break_start) <= start
    assert start + shift.break_minutes <= min(shift.end, shift.break_end)


def test_the_break_of_a_night_shift_may_fall_after_the_horizon() -> None:
    """On the last evening, with the site open in the small hours of the day after."""
    given = network(
        (site("hall", (at(22), at(24)), (at(0, day=1), at(6, day=1))),),
        (Station("desk", "hall"),),
        (
            technician(
                "anna", rested("hall", at(22), at(6, day=1), 30, (at(1, day=1), at(3, day=1)))
            ),
        ),
        (request("r", "m20", "hall"),),
    )
    (start,) = sound_plan(given)
    assert at(1, day=1) <= start <= at(2, 30, day=1)


def test_a_reserve_beyond_the_day_s_room_does_not_forbid_care() -> None:
    """Rule 8 limits bookings that are not rework; with none of these, care may take any minute."""
    given = one_desk(
        (request("r", "m20", "hall"), request("back", "m20", "hall", rework=True)),
        care=(Care("wipe", "desk", 30, 0, 0, technician=True),),
        reserve=(Reserve("hall", 0, 2000),),
    )
    found, proven = plan_and_proof(given, Options(effort=1))
    assert [item.care for item in found.care] == ["wipe"]
    assert found.objective == pytest.approx(30.0)
    assert proven <= 30.0


def test_an_appointment_that_may_move_gives_way_to_a_reserve() -> None:
    """All but 19 of 480 minutes are held for rework: its 20 minutes cannot stay (rule 8)."""
    given = one_desk(
        (request("r", "m20", "hall"),),
        appointments=(Appointment("a", "r", "desk", "anna", at(10), 20, fixed=False),),
        reserve=(Reserve("hall", 0, 461),),
    )
    found = plan(given, Options(effort=1))
    assert found.moved == ("a",)
    assert found.objective == pytest.approx(32.0)


def test_the_bound_is_the_program_s_where_it_books_nobody() -> None:
    """All minutes are held, so that the request stays out at 30, and that is proven."""
    given = one_desk((request("r", "m20", "hall"),), reserve=(Reserve("hall", 0, 480),))
    found, proven = plan_and_proof(given, Options(effort=1))
    assert found.objective == pytest.approx(30.0)
    assert proven == pytest.approx(30.0, rel=1e-6)


def test_a_reserve_and_care_share_the_room() -> None:
    """Of 480 minutes, 30 go to care and 420 are held: one booking of 20 has room, a second not."""
    given = one_desk(
        tuple(request(f"r{k}", "m20", "hall") for k in range(3)),
        care=(Care("wipe", "desk", 30, 0, 0, technician=True),),
        reserve=(Reserve("hall", 0, 420),),
    )
    found, proven = plan_and_proof(given, Options(effort=1))
    assert len(found.bookings) == 1
    assert found.objective == pytest.approx(60.0)
    assert proven <= 60.0
