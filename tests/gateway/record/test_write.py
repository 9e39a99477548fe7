"""A plan is written where the record still is what the network said; the rest comes back."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.booking import Options, plan
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.record import read, write
from sites.models import Appointment, AppointmentEvent, Notice, PlanRun, Step
from sites.services.requests import request_close
from sites.services.times import absence_add, downtime_add
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


def test_a_closed_request_a_downtime_and_an_absence_are_named(here: World) -> None:
    network, made = planned(here, 6)
    gone = made.bookings[0].request
    request_close(request=here_request(gone), why="withdrawn")
    station = here.stations[0]
    downtime_add(station=station, day=DAY, minute=480, minutes=600, reason="lamp")
    found = problems(network, made)
    assert found[gone].startswith("is no longer to book here")
    there = {each.request for each in made.bookings if each.station == station.code} - {gone}
    assert {found[key] for key in there} <= {f"station {station.code} is closed at that time now"}
    assert set(found) == there | {gone}
    absence_add(technician=here.technicians[0], day=DAY, minute=1060, minutes=20)


def here_request(reference: str) -> object:
    """The record's request."""
    return Appointment.request.field.related_model.objects.get(reference=reference)


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
    left = network.requests[0].id
    out = plan(
        replace(network, requests=network.requests[1:], appointments=network.appointments[1:]),
        Options(effort=1),
    )
    kept = tuple(each for each in made.bookings if each.request != network.appointments[0].request)
    reason = ({"code": "x"},)
    assert reason
    dropped = replace(
        out,
        bookings=kept,
        unbooked=(replace_unbooked(network.appointments[0].request),),
        moved=(network.appointments[0].id,),
    )
    assert write(network, dropped).dropped == 1
    assert Appointment.objects.get(code=network.appointments[0].id).step == Step.DISPLACED
    assert left in {row.id for row in read(first_day=DAY, days=1).requests}
    again = read(first_day=DAY, days=1)
    assert write(again, plan(again, Options(effort=1))).moved == 1
    assert Appointment.objects.filter(step=Step.BOOKED).count() == 2
