"""Who is hit is served, and who is not stays. Expected places are derived by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.engine.booking.replan import Events, Outage, replan
from planner.engine.errors import FileRefused, NetworkImpossible
from planner.engine.network import Appointment, Reserve, Window
from planner.engine.units import DAY
from planner.engine.verify import verify
from tests.engine.booking.build import COST, EXACT, at, request
from tests.engine.booking.replan.build import (
    outage,
    places,
    plan_by_hand,
    replanned,
    two_desks,
)

NINE, NOON = at(9), at(12)
FEW = settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow]
)  # fmt: skip


def test_who_loses_a_station_keeps_time_and_technician_at_a_free_one() -> None:
    network = two_desks(3)
    plan = plan_by_hand(
        network, ("r1", "d1", "anna", NINE), ("r2", "d1", "anna", at(9, 20)),
        ("r3", "d2", "ben", at(10)),
    )  # fmt: skip
    made = replanned(network, plan, down=outage("d1", 0, DAY))
    assert places(made.plan) == {
        "r1": ("d2", "anna", NINE),
        "r2": ("d2", "anna", at(9, 20)),
        "r3": ("d2", "ben", at(10)),
    }
    assert made.plan.moved == ("r1", "r2")
    assert made.news.affected == 2
    assert [change.why for change in made.news.changes] == ["station d1 is down"] * 2
    assert not any(change.is_told for change in made.news.changes)


def test_who_loses_a_technician_goes_to_another_at_the_nearest_time() -> None:
    network = two_desks(2)
    plan = plan_by_hand(network, ("r1", "d1", "anna", at(10)), ("r2", "d2", "ben", at(10)))
    made = replanned(network, plan, absent=outage("anna", at(10), at(10, 20)))
    assert places(made.plan)["r2"] == ("d2", "ben", at(10))
    _, _, start = places(made.plan)["r1"]
    assert abs(start - at(10)) == 20
    assert [change.why for change in made.news.changes] == ["technician anna is absent"]


def test_who_loses_a_day_goes_to_the_next_and_a_closed_site_is_named() -> None:
    network = two_desks(1, days=2)
    plan = plan_by_hand(network, ("r1", "d1", "anna", at(10)))
    made = replanned(network, plan, closed=outage("hall", 0, DAY))
    assert places(made.plan)["r1"] == ("d1", "anna", at(10, day=1))
    assert [change.why for change in made.news.changes] == ["site hall is closed"]
    assert [change.is_told for change in made.news.changes] == [True]


def test_a_place_that_comes_free_goes_to_who_waited() -> None:
    network = two_desks(10, technicians=("anna",))
    row = [(f"r{k}", "d1", "anna", at(9, 20 * (k - 1))) for k in range(1, 10)]
    plan = plan_by_hand(network, *row)
    made = replanned(network, plan, cancelled=("r4",))
    assert places(made.plan)["r10"] == ("d1", "anna", at(10))
    assert made.plan.moved == ()
    assert [change.kind for change in made.news.changes] == ["waited"]


def test_who_is_added_takes_a_free_place_and_nobody_moves() -> None:
    network = two_desks(2)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE), ("r2", "d2", "ben", NINE))
    made = replanned(network, plan, added=(request("new", "m20", "hall"),))
    assert "new" in places(made.plan)
    assert made.plan.moved == ()
    assert [change.kind for change in made.news.changes] == ["added"]


def test_somebody_gives_way_where_another_would_be_left_out() -> None:
    network = two_desks(1, technicians=("anna",))
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    early = request("new", "m20", "hall", available=(Window(NINE, at(9, 20)),))
    made = replanned(network, plan, added=(early,))
    assert places(made.plan)["new"][2] == NINE
    assert made.plan.moved == ("r1",)
    (moved,) = made.news.of("gave way")
    assert (moved.request, moved.favours, moved.is_lost) == ("r1", "new", False)
    assert made.plan.objective == pytest.approx(COST.move)


def test_nobody_gives_way_where_their_move_costs_more_than_leaving_out() -> None:
    dear = replace(EXACT, cost=replace(COST, move=31.0))
    network = two_desks(1, technicians=("anna",), policy=dear)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    early = request("new", "m20", "hall", available=(Window(NINE, at(9, 20)),))
    made = replanned(network, plan, added=(early,))
    assert places(made.plan) == {"r1": ("d1", "anna", NINE)}
    assert [item.request for item in made.plan.unbooked] == ["new"]
    assert made.plan.objective == pytest.approx(30.0)


def test_who_finds_no_place_is_lost_with_a_reason_and_charged_a_move() -> None:
    network = two_desks(1)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    made = replanned(network, plan, closed=outage("hall", 0, DAY))
    assert made.plan.bookings == ()
    assert made.plan.moved == ("r1",)
    assert made.plan.objective == pytest.approx(30.0 + COST.move)
    (lost,) = made.plan.unbooked
    assert lost.reasons
    assert [change.is_lost for change in made.news.changes] == [True]


def test_a_reason_is_found_anew_only_where_a_day_that_would_do_has_changed() -> None:
    """r3 and r4 have one time each, taken by anna's r1 and r2; only the first day is touched."""
    first, second = Window(NINE, at(9, 20)), Window(at(9, day=1), at(9, 20, day=1))
    asked = (
        *(request(f"r{k}", "m20", "hall") for k in (1, 2)),
        request("r3", "m20", "hall", available=(first,)),
        request("r4", "m20", "hall", available=(second,)),
    )
    network = two_desks(4, days=2, technicians=("anna",), requests=asked)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE), ("r2", "d1", "anna", at(9, day=1)))
    made = replanned(network, plan, down=outage("d2", at(10), at(11)))
    assert places(made.plan) == places(plan)
    details = {item.request: item.reasons[0].detail for item in made.plan.unbooked}
    assert details["r3"].startswith("full on every day that costs less than leaving it out (1 at")
    assert details["r4"] == "by hand"


def test_times_outside_the_days_of_the_network_are_refused() -> None:
    network = two_desks(1)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    for start, end in ((-60, 0), (DAY, DAY + 60)):
        with pytest.raises(FileRefused, match="lies outside the network's days") as refused:
            replan(network, plan, Events(down=outage("d1", start, end)))
        assert [fault.path for fault in refused.value.faults] == ["down[0]"]
    made = replanned(network, plan, down=outage("d1", DAY - 60, DAY + 60))
    assert places(made.plan) == places(plan)


def test_a_stranded_fixed_appointment_is_named_by_its_place_in_the_file_that_was_read() -> None:
    stands = (
        Appointment("a1", "r2", "d2", "ben", NINE, 20, fixed=True),
        Appointment("a2", "r1", "d1", "anna", NINE, 20, fixed=True),
    )
    network = two_desks(2, appointments=stands)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE), ("r2", "d2", "ben", NINE))
    for events in (Events(down=outage("d1", 0, DAY)), Events(absent=outage("anna", 0, DAY))):
        with pytest.raises(NetworkImpossible) as named:
            replan(network, plan, events)
        assert [fault.path for fault in named.value.faults] == ["appointments[1]"]


def test_a_reserve_that_an_outage_eats_into_sends_others_away() -> None:
    """Room 360 of two technicians, reserve 150: 210 minutes for ten plain bookings of 20.

    Without ben the room is 180, which leaves 30: one plain booking.
    """
    network = two_desks(4, days=2, reserve=(Reserve("hall", 0, 150),))
    plan = plan_by_hand(network, *((f"r{k}", "d1", "anna", at(9, 20 * k)) for k in range(1, 5)))
    made = replanned(network, plan, absent=outage("ben", 0, DAY))
    today = [name for name, (_, _, start) in places(made.plan).items() if start < DAY]
    assert len(today) == 1
    assert len(made.plan.bookings) == 4
    assert len(made.plan.moved) == 3


def test_a_fixed_appointment_on_a_station_that_is_gone_is_named() -> None:
    fixed = Appointment("a1", "r1", "d1", "anna", NINE, 20, fixed=True)
    network = two_desks(1, appointments=(fixed,))
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    with pytest.raises(NetworkImpossible) as refused:
        replan(network, plan, Events(down=outage("d1", 0, DAY)))
    (fault,) = refused.value.faults
    assert "fixed appointment r1" in fault.problem
    assert "d1 is closed (down)" in fault.problem


def test_a_plan_of_another_network_is_refused_by_rule() -> None:
    network = two_desks(1)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE))
    closed = replace(network, sites=(replace(network.sites[0], open=()),))
    with pytest.raises(FileRefused) as refused:
        replan(closed, plan, Events())
    assert {fault.path for fault in refused.value.faults} == {"plan, rule 3"}


def test_without_events_nothing_changes_but_the_appointments() -> None:
    network = two_desks(2)
    plan = plan_by_hand(network, ("r1", "d1", "anna", NINE), ("r2", "d2", "ben", NINE))
    made = replanned(network, plan)
    assert made.plan.bookings == plan.bookings
    assert made.plan.moved == ()
    assert made.news.changes == ()


@given(
    things=st.lists(
        st.tuples(
            st.sampled_from(("down d1", "down d2", "absent anna", "absent ben")),
            st.integers(0, 2 * DAY),
            st.integers(1, DAY),
        ),
        min_size=1,
        max_size=2,
    ),
    starts=st.lists(st.integers(0, 8), min_size=1, max_size=6, unique=True),
)
@FEW
def test_with_slack_who_is_not_hit_does_not_move(
    things: list[tuple[str, int, int]], starts: list[int]
) -> None:
    """Six of the 36 places of two days are taken, and a third day is free: there is always room."""
    network = two_desks(2 * len(starts), days=3)
    booked = [
        (f"r{2 * k + j + 1}", f"d{j + 1}", ("anna", "ben")[j], at(9, 20 * start, day=k % 2))
        for k, start in enumerate(starts)
        for j in (0, 1)
    ]
    plan = plan_by_hand(network, *booked)
    made_of = {"down": [], "absent": []}  # type: dict[str, list[Outage]]
    for what, start, minutes in things:
        kind, name = what.split()
        made_of[kind].append(Outage(name, start, start + minutes))
    made = replanned(network, plan, down=tuple(made_of["down"]), absent=tuple(made_of["absent"]))
    now = places(made.plan)
    assert len(now) == len(booked)
    for name, station, person, start in booked:
        hit = any(
            item.thing in (station, person) and item.start < start + 20 and start < item.end
            for item in made_of["down"] + made_of["absent"]
        )
        assert (now[name] != (station, person, start)) == hit
    assert verify(made.network, made.plan, draws=1000, seed=3) == ()
