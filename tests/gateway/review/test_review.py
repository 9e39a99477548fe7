"""A plan laid out: what happens to each request, figures and loads; expected by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from planner.engine.network import Appointment, Network, Station
from planner.engine.plan import Booking, Plan, Reason, Unbooked
from planner.engine.verify.cost import charges
from planner.engine.verify.facts import gather
from planner.gateway.review.figures import difference, figures_in_force, figures_of, told_by
from planner.gateway.review.lines import Kind, lines_of
from planner.gateway.review.load import loads_of
from tests.engine.booking.build import at, network, request, site, technician

DAYS = ((at(9), at(17)), (at(9, day=1), at(17, day=1)))


def the_network() -> Network:
    """Two days at one desk; ``stays``, ``goes`` and ``drops`` are booked, ``late`` is due today."""
    return network(
        (site("hall", *DAYS),),
        (Station("desk", "hall"),),
        (technician("anna", *(("hall", *day) for day in DAYS)),),
        (
            request("stays", "m20", "hall"),
            request("goes", "m20", "hall"),
            request("drops", "m20", "hall", due=1),
            request("late", "m20", "hall", due=0),
            request("out", "m20", "hall", due=0, release=0),
        ),
        days=2,
        appointments=(
            Appointment("a1", "stays", "desk", "anna", at(9), 20, False),
            Appointment("a2", "goes", "desk", "anna", at(10, 3), 20, False),
            Appointment("a3", "drops", "desk", "anna", at(11), 20, True),
        ),
    )


def the_plan(cost: float = 0.0) -> Plan:
    """``goes`` moves to the second day, ``late`` comes a day after it is due."""

    def booked(who: str, start: int, p_wait: float) -> Booking:
        return Booking(who, "hall", "desk", "anna", start, start, 20, p_wait)

    reason = (Reason("full", "full on every day", "add 20 min at hall"),)
    return Plan(
        bookings=(
            booked("late", at(9, day=1), 0.02),
            booked("stays", at(9), 0.0),
            booked("goes", at(10, day=1), 0.01),
        ),
        care=(),
        care_unplaced=(),
        breaks=(),
        unbooked=(Unbooked("drops", reason), Unbooked("out", reason)),
        moved=("a2", "a3"),
        lengths={"m20": 20},
        objective=cost,
        bound=cost / 2,
        gap=1.0,
    )


def test_every_request_has_a_line_that_says_what_happens_to_it() -> None:
    lines = {line.request: line for line in lines_of(the_network(), the_plan())}
    assert {name: line.kind for name, line in lines.items()} == {
        "stays": Kind.STANDS,
        "goes": Kind.MOVED,
        "drops": Kind.LOSES,
        "late": Kind.NEW,
        "out": Kind.OUT,
    }
    was, now = lines["goes"].was, lines["goes"].now
    assert was is not None
    assert now is not None
    # 10:03 is told as 10:00 on a grain of 5 minutes; the network begins on 2 March 2026
    assert (was.day, was.told, was.name) == (date(2026, 3, 2), 600, "Hall")
    assert (now.day, now.told, now.station) == (date(2026, 3, 3), 600, "desk")
    assert lines["late"].late_days == 1
    assert lines["out"].late_days == 0
    assert lines["out"].why == "every place is full before it is worth more"
    assert lines["out"].reasons[0].remedy == "add 20 min at hall"


def test_bookings_come_by_time_and_who_is_left_out_by_due_date() -> None:
    names = [line.request for line in lines_of(the_network(), the_plan())]
    assert names == ["stays", "late", "goes", "out", "drops"]


def test_a_chance_above_the_promise_is_said() -> None:
    found = replace(
        the_plan(), bookings=tuple(replace(each, p_wait=0.5) for each in the_plan().bookings)
    )
    assert all(line.over for line in lines_of(the_network(), found) if line.now)


def test_figures_count_what_they_say() -> None:
    found = figures_of(the_network(), the_plan())
    assert (found.requests, found.booked, found.left) == (5, 3, 2)
    assert found.late == 1  # "late", a day after its due date
    assert found.overdue == 2  # "drops" and "out" are due within the two days
    assert found.moved == 1  # a3 is fixed: it is no movable appointment that moved
    assert found.minutes == 60
    assert found.wait_days == pytest.approx((0 + 1 + 1) / 3)
    assert found.worst == pytest.approx(0.02)


def test_the_cost_is_the_judges_and_by_hand() -> None:
    """30 for each left out, 3 for the late day, 0.1 a day of waiting, 2 for the move (COST)."""
    whole, made = the_network(), the_plan()
    found = figures_of(whole, made)
    assert found.cost == pytest.approx(2 * 30 + 3 + 2 * 0.1 + 2)
    assert found.cost == pytest.approx(charges(gather(whole, made)).total)


def test_what_is_in_force_is_on_the_same_scale() -> None:
    found = figures_in_force(the_network())
    assert (found.booked, found.left, found.moved, found.bound) == (3, 2, 0, None)
    assert found.cost == pytest.approx(2 * 30)


def test_two_plans_are_compared_request_by_request_on_the_calendar() -> None:
    whole = the_network()
    here = told_by(whole, the_plan())
    shifted = replace(whole, first_day=date(2026, 3, 3))
    earlier = Plan(
        bookings=(
            Booking("late", "hall", "desk", "anna", at(9), at(9), 20, 0.0),
            Booking("goes", "hall", "desk", "anna", at(12), at(12), 20, 0.0),
            Booking("else", "hall", "desk", "anna", at(13), at(13), 20, 0.0),
        ),
        care=(), care_unplaced=(), breaks=(), unbooked=(), moved=(), lengths={"m20": 20},
        objective=0.0, bound=0.0, gap=None,
    )  # fmt: skip
    found = difference(here, told_by(shifted, earlier))
    # 9:00 on 3 March is the same in both; "goes" differs; "stays" only here, "else" only there
    assert (found.same, found.other, found.only_here, found.only_there) == (1, 1, 1, 1)


def test_loads_are_planned_minutes_of_the_room() -> None:
    (row,) = loads_of(the_network(), the_plan())
    assert [cell.load.booked for cell in row.cells] == [1, 2]
    assert [cell.load.room for cell in row.cells] == [480, 480]
    assert [cell.percent for cell in row.cells] == ["4%", "8%"]
    closed = replace(the_network(), sites=(site("hall", DAYS[0]),))
    (row,) = loads_of(closed, the_plan())
    assert row.cells[1].percent == "no room"
