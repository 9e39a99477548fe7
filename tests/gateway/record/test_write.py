"""A plan is written where the record still is what the network said; the rest comes back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from planner.engine.booking import Options, plan
from planner.engine.network import Network
from planner.engine.plan import Plan, Reason, Unbooked
from planner.gateway.record import look, read, write
from sites.errors import StepRefused
from sites.models import (
    Appointment,
    AppointmentEvent,
    CareRule,
    CareWindow,
    Notice,
    PlanRun,
    Request,
    Step,
)
from sites.services.appointments import appointment_step
from sites.services.requests import request_close
from sites.services.times import downtime_add, shift_add
from tests.sites.build import DAY, World


def planned(here: World, most: int = 4) -> tuple[Network, Plan]:
    """Requests ``r-0`` … and a plan of their Monday, with all of them booked."""
    for number in range(most):
        here.request(f"r-{number}")
    network = read(first_day=DAY, days=1)
    made = plan(network, Options(effort=1))
    assert len(made.bookings) == most
    return network, made


def problems(network: Network, made: Plan) -> dict[str, str]:
    """What is not written, by id."""
    return {each.id: each.problem for each in write(network, made).changed}


def test_bookings_become_appointments_with_event_notice_and_run(here: World) -> None:
    network, made = planned(here)
    written = write(network, made, seed=3)
    assert (written.booked, written.moved, written.dropped, written.changed) == (4, 0, 0, ())
    rows = Appointment.objects.filter(step=Step.BOOKED, plan_run=written.run)
    assert {row.request.reference: row.told_minute for row in rows} == {
        each.request: each.told for each in made.bookings
    }
    assert AppointmentEvent.objects.filter(what="book", by=None).count() == 4
    assert Notice.objects.filter(kind="booked").count() == 4
    assert PlanRun.objects.get().seed == 3


def test_writing_a_plan_twice_changes_nothing(here: World) -> None:
    network, made = planned(here)
    write(network, made)
    before = list(Appointment.objects.order_by("pk").values())
    assert set(problems(network, made).values()) == {"was booked meanwhile"}
    assert list(Appointment.objects.order_by("pk").values()) == before


def test_who_was_booked_meanwhile_is_left_there_and_so_is_whom_that_displaces(here: World) -> None:
    network, made = planned(here)
    first = made.bookings[0]
    taken = here.book(
        here.request("late"),
        first.start,
        minutes=5,
        station=next(row for row in here.stations if row.code == first.station),
        technician=next(row for row in here.technicians if row.code == first.technician),
    )
    assert problems(network, made) == {first.request: "its time is taken by somebody else now"}
    taken.refresh_from_db()
    assert taken.step == Step.BOOKED
    assert Appointment.objects.count() == 4


def test_a_closed_request_and_a_downtime_are_named(here: World) -> None:
    network, made = planned(here, 6)
    gone = made.bookings[0].request
    request_close(request=Request.objects.get(reference=gone), why="withdrawn")
    station = here.stations[0]
    downtime_add(station=station, day=DAY, minute=480, minutes=600, reason="lamp")
    found = problems(network, made)
    assert found[gone].startswith("is no longer to book here")
    there = {each.request for each in made.bookings if each.station == station.code} - {gone}
    assert {found[key] for key in there} <= {f"station {station.code} is closed at that time now"}
    assert set(found) == there | {gone}


def test_two_appointments_swap_in_one_write(here: World) -> None:
    network, made = planned(here, 2)
    write(network, made)
    network = read(first_day=DAY, days=1)
    one, two = made.bookings
    swapped = replace(
        made,
        bookings=(replace(one, request=two.request), replace(two, request=one.request)),
        breaks=(),
    )
    written = write(network, swapped)
    assert (written.booked, written.moved, written.changed) == (0, 2, ())
    assert set(Appointment.objects.values_list("version", flat=True)) == {2}


def test_a_request_that_the_plan_leaves_out_loses_its_place_and_is_to_book_again(
    here: World,
) -> None:
    network, made = planned(here, 2)
    write(network, made)
    network = read(first_day=DAY, days=1)
    out = network.appointments[0]
    kept = tuple(each for each in made.bookings if each.request != out.request)
    left_out = Unbooked(out.request, (Reason("no_room", "no room", "add a shift"),))
    dropped = replace(made, bookings=kept, breaks=(), unbooked=(left_out,), moved=(out.id,))
    assert write(network, dropped).dropped == 1
    assert Appointment.objects.get(code=out.id).step == Step.DISPLACED
    again = read(first_day=DAY, days=1)
    assert out.request in {row.id for row in again.requests}
    written = write(again, plan(again, Options(effort=1)))
    assert written.changed == ()
    assert set(Appointment.objects.values_list("step", flat=True)) == {Step.BOOKED}
    assert Appointment.objects.count() == 2


def test_care_of_a_rule_is_made_and_placed(here: World) -> None:
    scanner = here.stations[0].placements.get().scanner
    CareRule.objects.create(scanner=scanner, kind="cleaning", every_days=1, minutes=20)
    network = read(first_day=DAY + timedelta(days=1), days=1)
    assert network.care == ()  # nobody is on shift on Tuesday
    shift_add(
        technician=here.technicians[0],
        site=here.site,
        day=network.first_day,
        minute=480,
        minutes=60,
    )
    network = read(first_day=network.first_day, days=1)
    assert write(network, plan(network, Options(effort=1))).care == 1
    window = CareWindow.objects.get()
    assert (window.kind, window.day, window.technician) == (
        "cleaning",
        network.first_day,
        here.technicians[0],
    )
    assert [row.id for row in read(first_day=network.first_day, days=1).care] == [window.code]


def test_a_technician_may_not_write_a_plan_and_nothing_is_written(here: World) -> None:
    network, made = planned(here, 1)
    with pytest.raises(StepRefused, match="is not for this role"):
        write(network, made, by=here.taker)
    assert not PlanRun.objects.exists()
    assert not Appointment.objects.exists()


def test_who_has_arrived_is_fixed_and_stays(here: World) -> None:
    network, made = planned(here, 1)
    write(network, made)
    appointment_step(appointment=Appointment.objects.get(), action="arrive", by=here.desk)
    assert [row.fixed for row in read(first_day=DAY, days=1).appointments] == [True]
    moved = replace(made, bookings=(replace(made.bookings[0], start=1000, told=1000),))
    there = read(first_day=DAY, days=1).appointments
    before = tuple(replace(row, fixed=False) for row in there)
    network = replace(network, appointments=before)
    assert problems(network, moved) == {"r-0": "was moved or fixed meanwhile"}


def test_who_hears_the_same_time_and_site_is_not_told_and_counts_as_staying(here: World) -> None:
    """Booked by hand for 20 minutes; the plan needs fewer, at the time that was told."""
    request = here.request("r-0")
    here.book(request, 600)
    network = read(first_day=DAY, days=1)
    made = plan(network, Options(effort=1))
    (booking,) = made.bookings
    assert (made.moved, booking.told) == ((), 600)
    assert booking.minutes < 20
    Notice.objects.all().delete()
    written = write(network, made)
    assert (written.booked, written.moved, written.stood) == (0, 0, 1)
    assert Appointment.objects.get(request=request).minutes == booking.minutes
    assert AppointmentEvent.objects.filter(what="move").count() == 1
    assert not Notice.objects.exists()


def test_a_look_tells_what_a_write_then_does(here: World) -> None:
    network, made = planned(here)
    here.book(Request.objects.get(reference="r-1"), 900)
    seen = look(network, made)
    assert not Appointment.objects.filter(plan_run__isnull=False).exists()
    written = write(network, made)
    for name in ("booked", "moved", "dropped", "stood", "care", "breaks", "changed"):
        assert getattr(seen, name) == getattr(written, name), name
    assert [each.id for each in seen.changed] == ["r-1"]
    assert seen.booked == 3
