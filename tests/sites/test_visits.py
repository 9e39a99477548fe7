"""Sessions, what is sent on, what comes back, and where the request stands by it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    Appointment,
    Notice,
    OverrideKind,
    ProgrammeVersion,
    Request,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Step,
    Submission,
)
from sites.models.codes import FingerPosition, MissingCode
from sites.selectors.standing import Standing, requests_standing
from sites.selectors.terms import terms_on
from sites.services.appointments import appointment_step
from sites.services.programmes import programme_change
from sites.services.requests import request_close, request_rework
from sites.services.sessions import (
    missing_record,
    override_record,
    session_end,
    session_identity_check,
)
from sites.services.submissions import (
    response_contacted,
    response_read,
    response_receive,
    submission_send,
)
from tests.sites.build import DAY, World


def standing(request: Request, today: date = DAY) -> str:
    """Where a request stands; looked up by itself and among all, which says the same."""
    every = Request.objects.all()
    alone, among = (
        requests_standing(today=today, requests=every, many=many).get(pk=request.pk).standing
        for many in (False, True)
    )
    assert alone == among
    return alone


def complete(here: World, request: Request, minute: int = 600) -> Session:
    """A complete session."""
    session = here.session(request, minute)
    session_identity_check(session=session, by=here.taker)
    return session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)


def answered(here: World, request: Request, number: str, kind: ResponseKind) -> Response:
    """A set sent on and answered."""
    sent = submission_send(session=complete(here, request), control_number=number)
    return response_receive(submission=sent, kind=kind)


def test_a_request_walks_from_received_to_accepted(here: World) -> None:
    request = here.request("r-1")
    assert standing(request) == Standing.TO_BOOK
    booked = here.book(request)
    assert standing(request) == Standing.BOOKED
    appointment_step(appointment=booked, action="displace", by=here.desk)
    assert standing(request) == Standing.DISPLACED
    appointment_step(appointment=booked, action="cancel", by=here.desk)
    assert standing(request) == Standing.TO_BOOK
    session = here.session(request)
    assert standing(request) == Standing.UNDERWAY
    session_identity_check(session=session, by=here.taker)
    session = session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)
    assert standing(request) == Standing.CAPTURED
    sent = submission_send(session=session, control_number="n-1")
    assert standing(request) == Standing.SENT
    response_receive(submission=sent, kind=ResponseKind.ACCEPTED)
    assert standing(request) == Standing.ACCEPTED


def test_an_image_return_is_read_the_subject_contacted_and_rework_booked(here: World) -> None:
    first = here.request("r-1")
    response = answered(here, first, "n-1", ResponseKind.IMAGE)
    assert standing(first) == Standing.RETURNED_UNREAD
    with pytest.raises(StepRefused, match="read the response first"):
        response_contacted(response=response)
    response_read(response=response, by=here.desk)
    assert standing(first) == Standing.RETURNED_IMAGE
    response_contacted(response=response)
    assert Notice.objects.filter(request=first, kind="returned").count() == 1
    rework = request_rework(response=response, reference="r-1b", today=DAY)
    assert standing(first) == Standing.REWORK
    assert (rework.rework, rework.rework_of, rework.resubmissions) == (True, first, 1)
    assert rework.due == DAY + timedelta(days=rework.terms.rework_days)
    assert [row.site for row in rework.at_sites.all()] == [here.site]
    again = complete(here, rework, 700)
    sent = submission_send(session=again, control_number="n-2", returned=response.submission)
    assert sent.returned_control_number == "n-1"
    response_receive(submission=sent, kind=ResponseKind.ACCEPTED)
    assert standing(rework) == Standing.ACCEPTED


def test_a_returned_number_is_carried_once_and_only_by_its_subject(here: World) -> None:
    response = answered(here, here.request("r-1"), "n-1", ResponseKind.IMAGE)
    rework = request_rework(response=response, reference="r-1b", today=DAY)
    session = complete(here, rework, 700)
    stranger = complete(here, here.request("r-2"), 800)
    with pytest.raises(BadValue, match="another subject"):
        submission_send(session=stranger, control_number="n-9", returned=response.submission)
    submission_send(session=session, control_number="n-2", returned=response.submission)
    with pytest.raises(StepRefused, match="carried once"):
        submission_send(session=session, control_number="n-3", returned=response.submission)
    with pytest.raises(BadValue, match="used already"):
        submission_send(session=session, control_number="n-2")
    with pytest.raises(ChangedMeanwhile, match="rework already"):
        request_rework(response=response, reference="r-1c", today=DAY)


@pytest.mark.parametrize(
    ("kind", "stands"),
    [
        (ResponseKind.DATA, Standing.RETURNED_DATA),
        (ResponseKind.TRANSMISSION, Standing.RETURNED_TRANSMISSION),
    ],
)
def test_other_returns_ask_for_no_session(
    here: World, kind: ResponseKind, stands: Standing
) -> None:
    request = here.request("r-1")
    response = answered(here, request, "n-1", kind)
    response_read(response=response, by=here.desk)
    assert standing(request) == stands
    with pytest.raises(StepRefused, match="at the desk"):
        request_rework(response=response, reference="r-2", today=DAY)
    again = submission_send(session=response.submission.session, control_number="n-2")
    assert standing(request) == Standing.SENT
    response_receive(submission=again, kind=ResponseKind.ACCEPTED)
    assert standing(request) == Standing.ACCEPTED


def test_expired_and_closed_requests(here: World) -> None:
    request = here.request("r-1")
    assert request.expires is not None
    assert standing(request, request.expires) == Standing.TO_BOOK
    assert standing(request, request.expires + timedelta(days=1)) == Standing.EXPIRED
    booked = here.book(request)
    with pytest.raises(StepRefused, match="cancel the appointment"):
        request_close(request=request, why="withdrawn")
    appointment_step(appointment=booked, action="cancel", by=here.desk)
    request_close(request=request, why="withdrawn")
    assert standing(request) == Standing.CLOSED


def test_a_complete_set_needs_the_identity_check(here: World) -> None:
    session = here.session(here.request("r-1"))
    with pytest.raises(StepRefused, match="no identity check"):
        session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)
    session_end(session=session, how=SessionEnd.BROKEN_OFF, by=here.taker)
    assert Appointment.objects.get().step == Step.HELD
    with pytest.raises(StepRefused, match="no complete set"):
        submission_send(session=session, control_number="n-1")
    assert not Submission.objects.exists()
    with pytest.raises(StepRefused, match="has ended"):
        missing_record(
            session=session, position=FingerPosition.LEFT_RING, code=MissingCode.AMPUTATED
        )


def override(here: World, session: Session, **values: object) -> None:
    """Record an override by the technician."""
    fields = {
        "session": session,
        "position": FingerPosition.RIGHT_INDEX,
        "kind": OverrideKind.QUALITY,
        "reason": "worn ridges",
        "by": here.taker,
        **values,
    }
    override_record(**fields)  # type: ignore[arg-type]


def test_an_override_needs_a_reason_and_a_second_person_where_the_programme_asks(
    here: World,
) -> None:
    session = here.session(here.request("r-1"))
    with pytest.raises(StepRefused, match="second person"):
        override(here, session)
    with pytest.raises(StepRefused, match="second person"):
        override(here, session, second=here.taker)
    with pytest.raises(BadValue, match="no reason"):
        override(here, session, reason=" ", second=here.desk)
    override(here, session, second=here.desk)
    session_identity_check(session=session, by=here.taker)
    with pytest.raises(BadValue, match="does not agree with the overrides"):
        session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker)
    session_end(session=session, how=SessionEnd.OVERRIDE, by=here.taker)
    ProgrammeVersion.objects.update(override_allowed=False)
    second = here.session(here.request("r-2"), 700)
    with pytest.raises(StepRefused, match="not allowed by the programme"):
        override(here, second, second=here.desk)


def test_a_change_of_the_programme_starts_on_its_day_and_old_requests_keep_theirs(
    here: World,
) -> None:
    before = here.request("r-1")
    programme_change(programme=here.programme, starts_on=date(2026, 3, 10), due_days=5)
    eve = here.request("r-2", received=date(2026, 3, 9))
    after = here.request("r-3", received=date(2026, 3, 10))
    assert [(row.due - row.received).days for row in (before, eve, after)] == [14, 14, 5]
    before.refresh_from_db()
    assert before.terms == eve.terms != after.terms
    assert after.terms.attempts_per_capture == eve.terms.attempts_per_capture
    with pytest.raises(BadValue, match="no parameters yet"):
        terms_on(programme=here.programme, day=date(2025, 12, 31))
    with pytest.raises(BadValue, match="is no parameter"):
        programme_change(programme=here.programme, starts_on=date(2026, 4, 1), due=5)
    with pytest.raises(BadValue, match="has a version"):
        programme_change(programme=here.programme, starts_on=date(2026, 3, 10), due_days=6)
