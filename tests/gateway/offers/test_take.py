"""Taking a time: once however often it is sent, never over what somebody else did."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import connections

from planner.gateway.offers.take import Wish, active_of, seen_of, take, wish
from sites.errors import BadValue, ChangedMeanwhile, RecordError, SlotTaken
from sites.models import ACTIVE, Appointment, Notice, Request, Site, Station, Step
from sites.services.appointments import appointment_step
from tests.gateway.offers.conftest import NEXT, asked, staffed, told
from tests.sites.build import NOW, World

AT = Wish("site-1", NEXT, 600)


def taken(here: World, request: Request, wanted: Wish, seen: str) -> tuple[Appointment, str]:
    """Take it as a coordinator of every site."""
    sites = list(Site.objects.all())
    return take(request, wanted, by=here.desk, now=NOW, sites=sites, seen=seen)


def test_a_time_is_booked_as_it_was_offered(here: World) -> None:
    request = here.request("r")
    offered = next(t for t in asked(request, first=NEXT, last=NEXT).times if t.told == 600)
    one, what = taken(here, request, wish(offered.key), "none")
    assert what == "booked"
    assert (one.day, one.told_minute, one.minutes) == (NEXT, 600, offered.minutes)
    assert one.p_wait == pytest.approx(1 - offered.kept)
    assert Notice.objects.filter(request=request, kind="booked").count() == 1


def test_sent_twice_it_is_booked_once(here: World) -> None:
    request = here.request("r")
    first, _ = taken(here, request, AT, "none")
    again, what = taken(here, request, AT, "none")
    assert (again.pk, what) == (first.pk, "stands")
    assert again.events.count() == 1


def test_a_booked_request_is_moved(here: World) -> None:
    request = here.request("r")
    first, _ = taken(here, request, AT, "none")
    moved, what = taken(here, request, Wish("site-1", NEXT, 700), seen_of(first))
    assert (moved.pk, what, moved.told_minute) == (first.pk, "moved", 700)
    assert [event.what for event in moved.events.all()] == ["book", "move"]


def test_who_lost_its_place_is_moved_to_another(here: World) -> None:
    request = here.request("r")
    here.book(request, 600, day=NEXT)
    lost = appointment_step(
        appointment=request.appointments.get(), action="displace", by=here.desk, why="closed"
    )
    moved, what = taken(here, request, Wish("site-1", NEXT, 700), seen_of(lost))
    assert (moved.pk, what, moved.step) == (lost.pk, "moved", Step.BOOKED)


def test_a_form_that_saw_another_state_changes_nothing(here: World) -> None:
    request = here.request("r")
    first, _ = taken(here, request, AT, "none")
    for seen in ("none", "", f"{first.pk}.99"):
        with pytest.raises(ChangedMeanwhile):
            taken(here, request, Wish("site-1", NEXT, 700), seen)
    assert active_of(request) == first


def test_a_time_that_went_is_refused(here: World) -> None:
    for station, technician in zip(here.stations, here.technicians, strict=True):
        name = f"b-{station.code}"
        here.book(
            here.request(name), 590, day=NEXT, minutes=40, station=station, technician=technician
        )
    with pytest.raises(SlotTaken, match="10:00: is not free any more"):
        taken(here, here.request("r"), AT, "none")


@pytest.mark.parametrize("key", ["", "site-1", "site-1|soon|600", "site-1|2026-03-03|ten", "|||"])
def test_what_no_page_sent_is_refused(key: str) -> None:
    with pytest.raises(BadValue):
        wish(key)


@pytest.mark.django_db(transaction=True)
def test_of_many_coordinators_who_book_one_time_one_wins_and_the_others_see_what_is_left() -> None:
    """One station, four people at four desks, the same told time, all at once."""
    here = staffed()
    Station.objects.filter(pk=here.stations[1].pk).update(in_use=False)
    requests = [here.request(f"r-{n}") for n in range(4)]
    meet = threading.Barrier(len(requests))

    def work(request: Request) -> str:
        try:
            meet.wait(timeout=60)
            return taken(here, request, AT, "none")[1]
        except RecordError as error:
            return error.code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(requests)) as pool:
        answers = list(pool.map(work, requests))
    assert sorted(answers) == ["booked", "slot_taken", "slot_taken", "slot_taken"]
    assert Appointment.objects.filter(step__in=ACTIVE).count() == 1
    loser = requests[answers.index("slot_taken")]
    left = asked(loser, first=NEXT, last=NEXT + timedelta(days=0))
    assert 600 not in told(left.times)
    assert len(left.times) > 50
    call_command("check_record")


@pytest.mark.django_db(transaction=True)
def test_two_coordinators_who_book_one_person_book_one_appointment() -> None:
    here = staffed()
    request = here.request("r")
    meet = threading.Barrier(2)

    def work(minute: int) -> str:
        try:
            meet.wait(timeout=60)
            return taken(here, request, Wish("site-1", NEXT, minute), "none")[1]
        except RecordError as error:
            return error.code
        finally:
            connections.close_all()

    with ThreadPoolExecutor(2) as pool:
        answers = sorted(pool.map(work, (600, 800)))
    assert answers[0] in {"already_booked", "booked"}
    assert answers.count("booked") == 1
    assert set(answers) <= {"booked", "already_booked", "changed_meanwhile"}
    assert Appointment.objects.filter(request=request, step__in=ACTIVE).count() == 1
