"""``check_record`` finds what is off, each thing under its own name."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.db import connection

from sites.check.all import CHECKS
from sites.crypto import lookup
from sites.models import (
    Appointment,
    AppointmentEvent,
    Attempt,
    Override,
    Request,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Site,
    Subject,
)
from sites.occupancy.keep import before_migrate, engine_of, run
from sites.services.sessions import session_end
from sites.services.submissions import response_receive, submission_send
from tests.sites.build import NOW, World
from tests.sites.test_occupancy import copy, raw_insert

pytestmark = pytest.mark.django_db


def check() -> tuple[int, str]:
    """Exit code and text of the command."""
    out = io.StringIO()
    try:
        call_command("check_record", stdout=out)
    except SystemExit as end:
        return int(str(end.code)), out.getvalue()
    return 0, out.getvalue()


def overlap_past_the_triggers(here: World) -> None:
    """Somebody takes the triggers away and books twice; only the views are put back."""
    first = Appointment.objects.get()
    before_migrate(using="default")
    raw_insert(copy(first, here, "r-2"))
    run(connection, engine_of(connection).views())


def first_trigger() -> str:
    """The statement that drops the trigger of the appointments."""
    if connection.vendor == "postgresql":
        return "DROP TRIGGER record_appointment_occupies ON record_appointment"
    return "DROP TRIGGER record_appointment_update"


def test_it_finds_that_the_audit_can_be_changed(here: World) -> None:
    """Both of its triggers: the one that writes, and the one that keeps what was written."""
    on = " ON record_auditentry" if connection.vendor == "postgresql" else ""
    name = "record_auditentry_kept" if on else "record_auditentry_not_deleted"
    run(connection, [f"DROP TRIGGER {name}{on}"])
    status, text = check()
    assert status == 1
    assert f"trigger {name}: is not there" in text


OFF: dict[str, Callable[[World], object]] = {
    "triggers in place": lambda here: run(connection, [first_trigger()]),
    "occupancy is what is due": overlap_past_the_triggers,
    "no overlap": overlap_past_the_triggers,
    "wall and instants agree": lambda here: Appointment.objects.update(
        starts_at=Appointment.objects.get().starts_at - timedelta(minutes=5)
    ),
    "holidays are known": lambda here: Site.objects.update(holiday_country="XX"),
    "contact is found": lambda here: Subject.objects.update(phone_key="0"),
    "steps follow events": lambda here: AppointmentEvent.objects.all().delete(),
    "sessions follow steps": lambda here: Appointment.objects.update(step="booked"),
    "attempts keep the terms": lambda here: Attempt.objects.update(number=2),
    "overrides keep the terms": lambda here: Override.objects.update(second=None),
    "submissions hang together": lambda here: Response.objects.update(
        received_at=NOW - timedelta(days=900)
    ),
    "reworks are of the same subject": lambda here: Request.objects.create(
        reference="r-odd",
        subject=here.request("r-other").subject,
        terms=Request.objects.get(reference="r-1").terms,
        profile=here.profile,
        received=NOW.date(),
        release=NOW.date(),
        due=NOW.date(),
        rework=True,
        rework_of=Request.objects.get(reference="r-1"),
    ),
}


@pytest.fixture
def full(here: World) -> World:
    """The small world after one visit, sent on and answered."""
    request = here.request("r-1")
    Subject.objects.update(phone="+00 1", phone_key=lookup("+00 1"))
    session = here.session(request)
    people = {"identity_checked_by": here.taker, "identity_checked_at": NOW}
    Attempt.objects.create(session=session, position=2, impression=1, number=1)
    Override.objects.create(
        session=session,
        position=2,
        kind="quality",
        reason="x",
        at=NOW,
        by=here.taker,
        second=here.desk,
    )
    Session.objects.update(**people)
    session.refresh_from_db()
    session = session_end(session=session, how=SessionEnd.OVERRIDE, by=here.taker)
    sent = submission_send(session=session, control_number="n-1")
    response_receive(submission=sent, kind=ResponseKind.ACCEPTED)
    return here


def test_a_record_that_services_wrote_is_whole(full: World) -> None:
    code, text = check()
    assert (code, text.count("ok "), text.count("OFF")) == (0, len(CHECKS), 0)


def test_every_check_is_tried() -> None:
    assert set(OFF) == set(CHECKS)


@pytest.mark.parametrize("name", OFF)
def test_what_is_off_is_found(full: World, name: str) -> None:
    OFF[name](full)
    code, text = check()
    assert code == 1
    assert f"OFF  {name}" in text.splitlines()
    assert "findings" in text
