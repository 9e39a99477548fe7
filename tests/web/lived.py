"""An invented site at work: requests at every step, on one day that the pages take for today."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from sites.intake.files import read_table
from sites.models import (
    CareKind,
    CareRule,
    FingerPosition,
    ImpressionType,
    Intake,
    IntakeStep,
    Request,
    Response,
    ResponseKind,
    ScannerPlacement,
    SessionEnd,
    Submission,
    User,
)
from sites.models.codes import Cause
from sites.services.appointments import appointment_step
from sites.services.care import care_fix
from sites.services.intakes import intake_choose, intake_give, intake_read
from sites.services.requests import request_rework
from sites.services.sessions import (
    attempt_record,
    session_end,
    session_identity_check,
    session_start,
)
from sites.services.submissions import (
    response_contacted,
    response_read,
    response_receive,
    submission_send,
)
from sites.services.times import downtime_add, shift_add
from tests.sites.build import DAY, World, world
from tests.web.planned import runs

NOW = datetime(2026, 3, 2, 10, 0, tzinfo=UTC)
"""11:00 at the site; `DAY` is that date."""


def lived() -> World:
    """Build it, in the current test's transaction."""
    here = world()
    shifts(here, DAY - timedelta(days=20), DAY + timedelta(days=14))
    for number in range(6):
        sent = submitted(here, f"past-{number}", 480 + 30 * number)
        answered(sent, ResponseKind.ACCEPTED, 2)
    answered(submitted(here, "back-unread", 700), ResponseKind.IMAGE, 4)
    told = answered(submitted(here, "back-told", 730), ResponseKind.IMAGE, 4)
    told = response_read(response=told, by=here.desk, at=NOW - timedelta(days=3))
    response_contacted(response=told, at=NOW - timedelta(days=3))
    again = answered(submitted(here, "back-again", 760), ResponseKind.IMAGE, 4)
    again = response_read(response=again, by=here.desk, at=NOW - timedelta(days=3))
    response_contacted(response=again, at=NOW - timedelta(days=3))
    rework = request_rework(response=again, reference="back-again-2", today=DAY - timedelta(days=2))
    submitted(here, "sent", 800)
    here.book(rework, 660, p_wait=0.04)
    here.book(here.request("booked"), 690, p_wait=0.13)
    arrived = here.book(here.request("arrived"), 630)
    appointment_step(appointment=arrived, action="arrive", by=here.desk, at=NOW)
    gone = here.book(here.request("gone"), 600)
    appointment_step(appointment=gone, action="no_show", by=here.desk, at=NOW)
    received(here, "late", DAY - timedelta(days=60), due=DAY - timedelta(days=1))
    here.request("free")
    care(here)
    runs(here)
    listed(here)
    return here


LISTED = """Reference;Surname;First name;Mobile;Due date;Sites
L-1;Listone;Ada;+00 555 0101;2026-03-20;site-1
L-2;Listtwo;Bo;not yet;2026-03-20;site-1
L-3;Listthree;Cy;+00 555 0103;soon;moon
booked;Listfour;Di;+00 555 0104;2026-03-20;site-1
L-5;Listone;;+00 555 0101;2026-03-21;Site 1
L-6;Listsix;Ed;;2026-03-20;
"""
"""A list with a good row, two with faults, one of the record, a likely double, one to note."""


def given(here: World, by: User, code: str) -> Intake:
    """A list that somebody gave, its columns confirmed."""
    table = read_table(LISTED.encode())
    one = intake_give(table=table, file_name="list.csv", by=by, at=NOW, code=code)
    return intake_choose(
        intake=one, mapping=one.mapping, programme=here.programme, profile=here.profile
    )


def listed(here: World, by: User | None = None, code: str = "list-1") -> Intake:
    """A list that somebody gave and that waits for a decision."""
    one = given(here, by or here.desk, code)
    while one.step == IntakeStep.CHECKING:
        one = intake_read(intake=one)
    return one


def answered(sent: Submission, kind: ResponseKind, days: int) -> Response:
    """What came back, some days ago."""
    return response_receive(submission=sent, kind=kind, at=NOW - timedelta(days=days))


def received(here: World, name: str, day: date, **values: Any) -> Request:
    """A request received on a day."""
    return here.request(name, received=day, **values)


def submitted(here: World, name: str, minute: int) -> Submission:
    """A request whose set was captured and sent ten days ago."""
    day = DAY - timedelta(days=10)
    at = NOW - timedelta(days=10)
    request = received(here, name, day)
    appointment = here.book(request, minute, day=day, at=at)
    appointment_step(appointment=appointment, action="arrive", by=here.desk, at=at)
    session = session_start(appointment=appointment, by=here.taker, at=at)
    session_identity_check(session=session, by=here.taker, at=at)
    for kept, cause in ((False, Cause.DRY), (True, None)):
        attempt_record(
            session=session,
            position=FingerPosition.RIGHT_THUMB,
            impression=ImpressionType.LIVE_ROLLED,
            kept=kept,
            cause=cause,
        )
    end = at + timedelta(minutes=18)
    session = session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker, at=end)
    return submission_send(session=session, control_number=f"c-{name}", at=end)


def shifts(here: World, first: date, last: date) -> None:
    """Both technicians on working days, but for `DAY`, when they are there already."""
    for offset in range((last - first).days + 1):
        day = first + timedelta(days=offset)
        if day == DAY or day.weekday() > 4:
            continue
        for technician in here.technicians:
            shift_add(technician=technician, site=here.site, day=day, minute=480, minutes=600)


def care(here: World) -> None:
    """A rule that is due, a window tomorrow, a station that is down in the afternoon."""
    ScannerPlacement.objects.update(starts_on=DAY - timedelta(days=30))
    for placement in ScannerPlacement.objects.all():
        CareRule.objects.create(
            scanner=placement.scanner, kind=CareKind.CALIBRATION, every_days=14, minutes=20
        )
    care_fix(
        station=here.stations[0],
        kind=CareKind.CLEANING,
        day=DAY,
        minute=780,
        minutes=30,
        code="clean-1",
        technician=here.technicians[1],
    )
    downtime_add(
        station=here.stations[1], day=DAY, minute=840, minutes=120, reason="platen cracked"
    )
