"""The network after the events. What is expected follows from the network format (derived)."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.engine.booking.replan import Events
from planner.engine.booking.replan.change import changed_network, cut_shift, subtract
from planner.engine.booking.replan.events import check_events
from planner.engine.codec import decode_network, encode_network
from planner.engine.errors import FileRefused, NetworkImpossible
from planner.engine.network import Appointment, Closure, Network, Shift, Technician, Window
from planner.engine.plan import Plan
from tests.engine.booking.build import at, network, request, rested, site
from tests.engine.booking.replan.build import outage, plan_by_hand, two_desks

NINE, NOON = at(9), at(12)


def test_cutting_spans_leaves_what_lies_outside_the_cuts() -> None:
    assert subtract([(0, 10)], [(3, 5), (8, 12)]) == [(0, 3), (5, 8)]
    assert subtract([(0, 10), (10, 20)], [(9, 11)]) == [(0, 9), (11, 20)]
    assert subtract([(0, 10)], [(0, 10)]) == []
    assert subtract([(0, 10)], [(10, 12)]) == [(0, 10)]


def test_a_shift_cut_in_the_middle_becomes_two_and_the_planned_break_keeps_its_piece() -> None:
    shift = rested("hall", at(9), at(17), 30, (at(11), at(14)))
    cut = [(at(12), at(12, 40))]
    early = cut_shift(shift, cut, [(at(11, 10), 30)])
    assert early == [
        Shift("hall", at(9), at(12), 30, at(11), at(12)),
        Shift("hall", at(12, 40), at(17), 0, at(12, 40), at(17)),
    ]
    late = cut_shift(shift, cut, [(at(13), 30)])
    assert [piece.break_minutes for piece in late] == [0, 30]
    assert (late[1].break_start, late[1].break_end) == (at(12, 40), at(14))


def test_a_break_that_is_cut_away_goes_where_most_of_its_window_is_left() -> None:
    shift = rested("hall", at(9), at(17), 30, (at(11), at(14)))
    pieces = cut_shift(shift, [(at(11, 45), at(12, 45))], [(at(12), 30)])
    assert [piece.break_minutes for piece in pieces] == [0, 30]
    assert pieces[1].break_start == at(12, 45)


def test_a_break_that_fits_no_piece_goes() -> None:
    shift = rested("hall", at(9), at(17), 60, (at(11), at(13)))
    pieces = cut_shift(shift, [(at(11, 30), at(12, 30))], [(at(11), 60)])
    assert [piece.break_minutes for piece in pieces] == [0, 0]


def test_every_booking_becomes_an_appointment_named_after_its_request() -> None:
    fixed = Appointment("a7", "r1", "d1", "anna", NINE, 20, fixed=True)
    old = Appointment("a8", "r2", "d2", "ben", NINE, 20, fixed=False)
    given = two_desks(3, appointments=(fixed, old))
    plan = plan_by_hand(given, ("r1", "d1", "anna", NINE), ("r3", "d2", "ben", at(10)))
    changed = changed_network(given, plan, Events(down=outage("d2", at(9, 30), at(10, 30))))
    assert changed.appointments == (
        Appointment("r1", "r1", "d1", "anna", NINE, 20, fixed=True),
        Appointment("r3", "r3", "d2", "ben", at(10), 20, fixed=False),
    )
    assert changed.stations[1].closed == (Closure(at(9, 30), at(10, 30), "down"),)


def test_downtime_closes_only_what_is_not_closed_already() -> None:
    given = two_desks(1)
    closed = Closure(at(10), at(10, 30), "calibration")
    stations = (replace(given.stations[0], closed=(closed,)), given.stations[1])
    given = replace(given, stations=stations)
    changed = changed_network(given, _empty(given), Events(down=outage("d1", NINE, NOON)))
    assert changed.stations[0].closed == (
        closed,
        Closure(NINE, at(10), "down"),
        Closure(at(10, 30), NOON, "down"),
    )


def test_a_site_that_is_closed_loses_that_part_of_its_opening_times() -> None:
    given = two_desks(1, days=2)
    events = Events(closed=outage("hall", at(11), at(10, day=1)))
    changed = changed_network(given, _empty(given), events)
    assert changed.sites[0].open == (
        Window(NINE, at(11)),
        Window(at(10, day=1), at(12, day=1)),
    )


def test_requests_come_and_go_and_a_cancelled_id_may_come_back() -> None:
    given = two_desks(2)
    plan = plan_by_hand(given, ("r1", "d1", "anna", NINE), ("r2", "d2", "ben", NINE))
    again = request("r1", "m20", "hall", due=4)
    changed = changed_network(given, plan, Events(added=(again,), cancelled=("r1",)))
    assert [item.id for item in changed.requests] == ["r2", "r1"]
    assert changed.requests[1] == again
    assert [item.request for item in changed.appointments] == ["r2"]


def test_who_lost_the_only_shift_at_a_site_keeps_an_appointment_that_must_move() -> None:
    given, plan = _traveller(fixed=False)
    changed = changed_network(given, plan, Events(absent=outage("anna", NINE, NOON)))
    assert [item.technician for item in changed.appointments] == ["anna"]
    assert decode_network(encode_network(changed)) == changed


def test_a_fixed_appointment_without_its_technician_is_named() -> None:
    given, plan = _traveller(fixed=True)
    with pytest.raises(NetworkImpossible) as refused:
        changed_network(given, plan, Events(absent=outage("anna", NINE, NOON)))
    (fault,) = refused.value.faults
    assert "r1" in fault.problem
    assert "anna" in fault.problem


@pytest.mark.parametrize(
    ("events", "said"),
    [
        (Events(down=outage("d9", 0, 1)), "down[0]"),
        (Events(absent=outage("d1", 0, 1)), "absent[0]"),
        (Events(closed=outage("hall", 5, 5)), "closed[0]"),
        (Events(cancelled=("r9",)), "cancel[0]"),
        (Events(added=(request("r1", "m20", "hall"),)), "add[0].id"),
        (Events(added=(request("n", "m20", "hall"),) * 2), "add[1].id"),
    ],
)
def test_events_that_do_not_fit_the_network_are_refused(events: Events, said: str) -> None:
    with pytest.raises(FileRefused) as refused:
        check_events(two_desks(1), events)
    assert [fault.path for fault in refused.value.faults] == [said]


def _empty(given: Network) -> Plan:
    return plan_by_hand(given)


def _traveller(*, fixed: bool) -> tuple[Network, Plan]:
    """Anna works at hall on the first day and at mill on the second; r1 is booked with her."""
    given = two_desks(1, days=2, technicians=("anna",))
    away = at(9, day=1), at(12, day=1)
    days = (Shift("hall", NINE, NOON, 0, NINE, NOON), Shift("mill", *away, 0, *away))
    given = network(
        (*given.sites, site("mill", away)), given.stations, (Technician("anna", (), days),),
        given.requests, days=2,
        appointments=(Appointment("a1", "r1", "d1", "anna", NINE, 20, fixed=fixed),),
    )  # fmt: skip
    return given, plan_by_hand(given, ("r1", "d1", "anna", NINE))
