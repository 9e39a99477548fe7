"""Booking, moving and walking appointments: what is kept, what is refused, and why."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sites.access import NotHere
from sites.clock import wall_span
from sites.errors import ChangedMeanwhile, DoesNotFit, RecordError, SlotTaken, StepRefused
from sites.models import (
    Appointment,
    Closure,
    Feature,
    Notice,
    RequestTime,
    Role,
    Skill,
    Step,
)
from sites.services.appointments import appointment_move, appointment_step
from sites.services.requests import request_close
from tests.sites.build import DAY, ZONE, World

SUNDAY = date(2026, 3, 8)


def move(here: World, booked: Appointment, minute: int, **values: object) -> Appointment:
    """Move a booking to another minute of the same day."""
    fields = {
        "appointment": booked,
        "station": here.stations[0],
        "technician": here.technicians[0],
        "day": DAY,
        "minute": minute,
        "minutes": 20,
        "why": "asked for",
        "by": here.desk,
    }
    return appointment_move(**{**fields, **values})  # type: ignore[arg-type]


def test_a_booking_keeps_both_clocks_and_tells_a_round_time(here: World) -> None:
    booked = here.book(here.request("r-1"), 613)
    assert (booked.minute, booked.told_minute) == (613, 610)
    assert booked.starts_at.isoformat() == "2026-03-02T09:13:00+00:00"  # Vienna in winter: UTC + 1
    assert booked.ends_at - booked.starts_at == timedelta(minutes=20)
    assert booked.step == Step.BOOKED


def test_every_step_is_kept_with_who_and_when_and_the_subject_hears_of_it(here: World) -> None:
    booked = here.book(here.request("r-1"))
    move(here, booked, 700)
    appointment_step(appointment=booked, action="cancel", by=here.desk, why="ill")
    events = booked.events.values_list("what", "step", "by__username")
    assert list(events) == [
        ("book", "booked", "coordinator"),
        ("move", "booked", "coordinator"),
        ("cancel", "cancelled", "coordinator"),
    ]
    kinds = Notice.objects.order_by("pk").values_list("kind", flat=True)
    assert list(kinds) == ["booked", "moved", "cancelled"]
    assert booked.why == "ill"


def test_who_read_it_before_somebody_else_wrote_is_told(here: World) -> None:
    booked = here.book(here.request("r-1"))
    mine = Appointment.objects.get(pk=booked.pk)
    move(here, booked, 700)
    with pytest.raises(ChangedMeanwhile, match="read it again"):
        move(here, mine, 800)
    with pytest.raises(ChangedMeanwhile):
        appointment_step(appointment=mine, action="cancel", by=here.desk)
    booked.refresh_from_db()
    assert (booked.minute, booked.events.count()) == (700, 2)


def test_a_move_onto_another_leaves_everything_as_it_was(here: World) -> None:
    here.book(here.request("r-1"), 600)
    second = here.book(here.request("r-2"), 660)
    with pytest.raises(SlotTaken, match="choose another time"):
        move(here, second, 610)
    second.refresh_from_db()
    assert (second.minute, second.version, second.events.count()) == (660, 1, 1)


def test_a_move_may_overlap_the_old_time_of_the_same_booking(here: World) -> None:
    booked = here.book(here.request("r-1"), 600)
    assert move(here, booked, 610).minute == 610


def test_two_bookings_swap_places_by_losing_them_first(here: World) -> None:
    one, two = here.book(here.request("r-1"), 600), here.book(here.request("r-2"), 620)
    for booked in (one, two):
        appointment_step(appointment=booked, action="displace", by=here.desk)
    assert (move(here, one, 620).step, move(here, two, 600).step) == (Step.BOOKED, Step.BOOKED)


def test_who_comes_late_after_a_no_show_gets_the_place_only_if_it_is_free(here: World) -> None:
    late, gone = here.book(here.request("r-1"), 600), here.book(here.request("r-2"), 640)
    for booked in (late, gone):
        appointment_step(appointment=booked, action="no_show", by=here.desk)
    here.book(here.request("r-3"), 640)
    assert appointment_step(appointment=late, action="arrive", by=here.desk).step == Step.ARRIVED
    with pytest.raises(SlotTaken):
        appointment_step(appointment=gone, action="arrive", by=here.desk)


def refused(here: World, why: str, **values: object) -> None:
    """A booking of the request does not fit, and says why and what to do."""
    request = values.pop("request", None) or here.request("r-x")
    with pytest.raises(DoesNotFit, match=why) as error:
        here.book(request, **values)  # type: ignore[arg-type]
    assert error.value.remedy
    assert not Appointment.objects.exists()


def test_a_closed_day_and_a_closed_hour_do_not_fit(here: World) -> None:
    refused(here, "not inside the hours", day=SUNDAY)
    refused(here, "not inside the hours", request=here.request("r-1"), minute=1070)
    Closure.objects.create(site=here.site, reason="water", **wall_span(ZONE, DAY, 590, 20))
    refused(here, "not inside the hours", request=here.request("r-2"), minute=600)


def test_a_technician_without_a_shift_does_not_fit(here: World) -> None:
    refused(here, "no shift", day=DAY + timedelta(days=1))


def test_features_and_skills_must_be_there(here: World) -> None:
    request = here.request("r-1")
    request.features.add(Feature.objects.create(code="accessible"))
    refused(here, "lacks accessible", request=request)
    request.features.clear()
    here.profile.skills.add(Skill.objects.create(code="difficult_capture"))
    refused(here, "lacks difficult_capture", request=request)


def test_release_availability_site_and_closing_are_kept(here: World) -> None:
    refused(here, "before the release", request=here.request("r-1", release=DAY + timedelta(1)))
    picky = here.request("r-2")
    RequestTime.objects.create(request=picky, day=DAY, minute=700, minutes=60)
    refused(here, "no time in which the subject can come", request=picky, minute=741)
    elsewhere = here.request("r-3")
    elsewhere.at_sites.update(site=here.site.__class__.objects.create(code="x", timezone=ZONE))
    refused(here, "not at a site", request=elsewhere, by=None)
    with pytest.raises(NotHere, match="The request r-3 is not at your sites"):
        here.book(elsewhere)
    closed = request_close(request=here.request("r-4"), why="withdrawn")
    refused(here, "is closed", request=closed)
    here.book(picky, 740)


def test_a_role_that_may_not_book_is_told_whom_to_ask(here: World) -> None:
    request = here.request("r-1")
    for role in (Role.TECHNICIAN, Role.MANAGER):
        with pytest.raises(StepRefused, match="ask one of: coordinator, site lead"):
            here.book(request, by=here.users[role])
    for step in ("book", "move", "start", "finish"):
        booked = Appointment(step=Step.BOOKED)
        with pytest.raises(RecordError, match="use the service"):
            appointment_step(appointment=booked, action=step, by=here.desk)
