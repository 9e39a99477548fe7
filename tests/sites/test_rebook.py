"""Not before a day: the times of the person, the appointment, and what is refused."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sites.errors import BadValue, DoesNotFit, StepRefused
from sites.models import Notice, Request, RequestTime, Role, Step
from sites.services.appointments import appointment_step
from sites.services.rebook import request_not_before
from tests.sites.build import DAY, NOW, World

LATER = DAY + timedelta(days=7)


def later(here: World, request: Request, day: date = LATER) -> object:
    """Keep the day, as a coordinator on `DAY`."""
    return request_not_before(request=request, day=day, today=DAY, by=here.desk, at=NOW)


def times(request: Request) -> list[tuple[date, int, int]]:
    """When the person can come."""
    return list(request.times.values_list("day", "minute", "minutes"))


def test_any_time_becomes_any_time_from_that_day_until_it_expires(here: World) -> None:
    request = here.request("r")
    assert later(here, request) is None
    assert request.expires is not None
    days = (request.expires - LATER).days + 1
    assert times(request) == [(LATER, 0, days * 1440)]


def test_times_before_the_day_go_and_those_across_it_are_cut(here: World) -> None:
    request = here.request("r")
    for day, minute, minutes in (
        (DAY, 600, 120),
        (LATER - timedelta(days=1), 600, 2880),
        (LATER, 540, 60),
        (LATER + timedelta(days=2), 540, 60),
    ):
        RequestTime.objects.create(request=request, day=day, minute=minute, minutes=minutes)
    later(here, request)
    assert times(request) == [
        (LATER, 0, 2040),
        (LATER, 540, 60),
        (LATER + timedelta(days=2), 540, 60),
    ]


def test_an_earlier_appointment_is_cancelled_and_told_without_the_reason(here: World) -> None:
    request = here.request("r")
    here.book(request, 600)
    given_back = later(here, request)
    one = request.appointments.get()
    assert (given_back, one.step) == (one, Step.CANCELLED)
    assert one.why == "to come from Mon 9 Mar 2026 on"
    assert Notice.objects.filter(request=request, kind="cancelled").count() == 1
    with pytest.raises(DoesNotFit, match="no time in which the subject can come"):
        here.book(request, 700)


def test_a_later_appointment_stays(here: World) -> None:
    request = here.request("r")
    here.book(request, 600, day=DAY)
    assert later(here, request, DAY + timedelta(days=1)) is not None
    again = here.request("s")
    day = DAY + timedelta(days=1)
    RequestTime.objects.create(request=again, day=day, minute=0, minutes=1440)
    assert later(here, again, day) is None
    assert times(again) == [(day, 0, 1440)]


def test_a_day_that_has_passed_or_comes_after_the_end_is_refused(here: World) -> None:
    request = here.request("r")
    assert request.expires is not None
    for day in (DAY, request.expires + timedelta(days=1)):
        with pytest.raises(BadValue):
            later(here, request, day)
    assert times(request) == []


def test_who_is_being_captured_or_may_not_is_refused_and_nothing_changes(here: World) -> None:
    session = here.session(here.request("r"))
    request = session.appointment.request
    with pytest.raises(StepRefused, match="under way"):
        later(here, request)
    other = here.request("s")
    here.book(other, 700)
    with pytest.raises(StepRefused, match="not for this role"):
        request_not_before(
            request=other, day=LATER, today=DAY, by=here.users[Role.TECHNICIAN], at=NOW
        )
    assert times(request) == times(other) == []
    appointment_step(appointment=other.appointments.get(), action="cancel", by=here.desk)
