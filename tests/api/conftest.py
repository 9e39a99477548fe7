"""A site at work, the people who call, and clients that sign in by token."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from sites.models import ExceptionRoute, ProgrammeVersion, Request, ResponseKind, Role, Site, User
from sites.services.appointments import appointment_step
from sites.services.holds import requests_hold
from sites.services.sessions import session_start
from sites.services.submissions import response_read
from sites.services.waiting import Seat, proposal_make, waiting_join
from tests.api.calls import Caller
from tests.sites.build import DAY, World
from tests.web.lived import NOW, answered, lived, submitted

FAST = {"read": "100000/min", "write": "100000/min", "heavy": "100000/min"}


@pytest.fixture(autouse=True)
def held(settings: Any) -> None:
    """The API takes `NOW` for the present, and counts no calls but where a test says so."""
    settings.NOW = NOW
    settings.API_RATES = FAST


@pytest.fixture
def here(db: None) -> World:
    """A site at work, returns that were read, an exception route, who is on hold, and who waits.

    No subject of these returns was contacted, no data corrected. The route is of the image return,
    as if it were its need's second one.
    """
    found = lived()
    for name, minute, kind in (
        ("back-read", 830, ResponseKind.IMAGE),
        ("back-data", 860, ResponseKind.DATA),
    ):
        back = answered(submitted(found, name, minute), kind, 3)
        response_read(response=back, by=found.desk, at=NOW)
    ExceptionRoute.objects.create(
        request=Request.objects.get(reference="back-read"),
        first_number="c-back-before",
        second_number="c-back-read",
        opened_at=NOW - timedelta(days=3),
        closes_on=DAY + timedelta(days=87),
    )
    requests_hold(requests=[found.request("held")], why="is away", by=found.desk, at=NOW)
    found.book(
        found.request("unseen"), 540, station=found.stations[1], technician=found.technicians[1]
    )
    proposed(found)
    underway(found)
    return found


def underway(here: World) -> None:
    """A session that has begun, of a programme in which one person may override."""
    ProgrammeVersion.objects.update(override_second_person=False)
    at = NOW - timedelta(hours=2)
    appointment = here.book(
        here.request("running"), 500, station=here.stations[1], technician=here.technicians[1]
    )
    appointment_step(appointment=appointment, action="arrive", by=here.desk, at=at)
    session_start(appointment=appointment, by=here.taker, at=at)


def proposed(here: World) -> None:
    """A request on the waiting list, and a time tomorrow that is put to it."""
    waiting = waiting_join(
        request=here.request("waits"), by=here.desk, hours_ahead=0, part="am", at=NOW
    )
    seat = Seat(
        station=here.stations[0],
        technician=here.technicians[0],
        day=DAY + timedelta(days=1),
        minute=600,
        minutes=20,
        told_minute=600,
        p_wait=0.04,
    )
    proposal_make(waiting=waiting, seat=seat, slack=9, at=NOW)


@pytest.fixture
def desk(here: World) -> Caller:
    """A coordinator of the site."""
    return Caller(here.users[Role.COORDINATOR])


@pytest.fixture
def colleague(here: World) -> Caller:
    """A coordinator of another site."""
    there = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    user = User.objects.create(username="colleague", role=Role.COORDINATOR)
    user.covers.add(there)
    return Caller(user)
