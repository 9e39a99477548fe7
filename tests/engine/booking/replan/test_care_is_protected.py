"""Care that lost its time finds another, at the bookings' expense where need be (derived)."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.network import Appointment, Care, Network, Shift, Technician
from planner.engine.plan import Break, CarePlaced
from planner.engine.units import DAY
from tests.engine.booking.build import at, rested
from tests.engine.booking.replan.build import (
    Place,
    outage,
    places,
    plan_by_hand,
    replanned,
    two_desks,
)

NINE, NOON = at(9), at(12)
CLEAN = Care("clean", "d1", 40, 0, 0, technician=True)


def row(*numbers: int) -> list[Place]:
    """Sessions at desk d1 with anna, request k in the k-th place of the morning."""
    return [(f"r{k}", "d1", "anna", at(9, 20 * (k - 1))) for k in numbers]


def test_care_that_is_not_touched_stays() -> None:
    network = two_desks(2, care=(CLEAN,))
    placed = (CarePlaced("clean", at(11), "anna"),)
    plan = plan_by_hand(network, *row(1, 2), care=placed)
    made = replanned(network, plan, down=outage("d1", NINE, at(10)))
    assert made.plan.care == placed


def test_care_goes_to_the_nearest_free_time() -> None:
    network = two_desks(1, care=(CLEAN,))
    plan = plan_by_hand(network, *row(1), care=(CarePlaced("clean", at(11), "anna"),))
    made = replanned(network, plan, down=outage("d1", at(11), NOON))
    assert made.plan.care == (CarePlaced("clean", at(10, 20), "anna"),)
    assert made.plan.moved == ()


def test_bookings_give_way_to_care_as_few_as_can_be() -> None:
    """Seven sessions fill the morning up to 11:20 and the care the rest, till the desk is down."""
    network = two_desks(7, days=2, technicians=("anna",), care=(CLEAN,))
    plan = plan_by_hand(
        network, *row(1, 2, 3, 4, 5, 6, 7), care=(CarePlaced("clean", at(11, 20), "anna"),)
    )
    made = replanned(network, plan, down=outage("d1", at(11, 20), NOON))
    assert [item.care for item in made.plan.care] == ["clean"]
    assert made.plan.care_unplaced == ()
    assert len(made.plan.bookings) == 7
    assert len(made.plan.moved) == 2
    assert all("care clean had to move" in change.why for change in made.news.changes)


def test_care_is_left_out_by_name_only_where_its_days_are_gone() -> None:
    network = two_desks(1, days=2, care=(CLEAN,))
    plan = plan_by_hand(network, care=(CarePlaced("clean", NINE, "anna"),))
    made = replanned(network, plan, down=outage("d1", 0, DAY))
    (left,) = made.plan.care_unplaced
    assert left.care == "clean"
    assert left.reason.startswith("station d1 is down, and no time is left")
    assert made.plan.care == ()


def test_care_that_had_no_time_before_gets_one_when_it_can() -> None:
    network = two_desks(1, days=2, care=(CLEAN,))
    plan = plan_by_hand(network, care=(CarePlaced("clean", NINE, "anna"),))
    first = replanned(network, plan, down=outage("d1", 0, DAY))
    open_again = replace(first.network, stations=network.stations)
    second = replanned(open_again, first.plan)
    assert [item.care for item in second.plan.care] == ["clean"]


def _one_technician(fixed_at: int) -> Network:
    """Anna alone from 9 to 12 with a break of 60; a fixed appointment leaves little beside it."""
    network = two_desks(1, technicians=("anna",), care=(Care("long", "d1", 80, 0, 0, True),))
    shift = rested("hall", NINE, NOON, 60, (NINE, NOON))
    fixed = Appointment("a1", "r1", "d2", "anna", fixed_at, 20, fixed=True)
    return replace(network, technicians=(Technician("anna", (), (shift,)),), appointments=(fixed,))


def test_a_break_moves_where_care_has_no_time_beside_it() -> None:
    """Care from 9:00 to 10:20, then the fixed appointment, break from 11:00.

    Down from 9:00 to 9:10, only 10:40 to 12:00 is left for 80 minutes: the break goes first.
    """
    network = _one_technician(at(10, 20))
    plan = plan_by_hand(
        network, ("r1", "d2", "anna", at(10, 20)), care=(CarePlaced("long", NINE, "anna"),),
        breaks=(Break("anna", at(11), 60),),
    )  # fmt: skip
    made = replanned(network, plan, down=outage("d1", NINE, at(9, 10)))
    assert made.plan.care == (CarePlaced("long", at(10, 40), "anna"),)
    (rest,) = made.plan.breaks
    assert NINE <= rest.start <= at(9, 20)


def test_a_break_stays_where_no_event_touches_it() -> None:
    network = two_desks(2)
    shift = rested("hall", NINE, NOON, 20, (NINE, NOON))
    ben = Technician("ben", (), (Shift("hall", NINE, NOON, 0, NINE, NOON),))
    network = replace(network, technicians=(Technician("anna", (), (shift,)), ben))
    breaks = (Break("anna", at(10), 20),)
    plan = plan_by_hand(network, *row(1, 2), breaks=breaks)
    made = replanned(network, plan, down=outage("d1", NINE, at(10)))
    assert made.plan.breaks == breaks


def test_a_break_that_is_cut_away_moves_to_a_free_time_of_its_piece() -> None:
    network = two_desks(1)
    shift = rested("hall", NINE, NOON, 20, (NINE, NOON))
    network = replace(
        network, technicians=(Technician("anna", (), (shift,)), *network.technicians[1:])
    )
    plan = plan_by_hand(network, ("r1", "d1", "anna", at(11)), breaks=(Break("anna", at(10), 20),))
    made = replanned(network, plan, absent=outage("anna", at(9, 50), at(10, 10)))
    assert [item.break_minutes for item in made.network.technicians[0].shifts] == [0, 20]
    (rest,) = made.plan.breaks
    assert rest.start == at(10, 10)
    assert places(made.plan) == {"r1": ("d1", "anna", at(11))}
