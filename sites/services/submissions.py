"""Sending sets on, and what comes back."""

from __future__ import annotations

from datetime import datetime

from django.utils import timezone

from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    Notice,
    NoticeKind,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Submission,
    User,
)
from sites.services.write import written


@written
def submission_send(
    *,
    session: Session,
    control_number: str,
    returned: Submission | None = None,
    at: datetime | None = None,
) -> Submission:
    """Send a session's set on; ``returned`` is the returned submission that it replaces.

    The returned set's control number is carried once. Raises StepRefused or BadValue.
    """
    if session.ended_how not in {SessionEnd.COMPLETE, SessionEnd.OVERRIDE}:
        raise StepRefused(str(session), "has no complete set", "end the session first")
    request = session.appointment.request
    if not control_number.strip():
        raise BadValue("control number", "is empty", "give the number of this submission")
    if Submission.objects.filter(control_number=control_number).exists():
        raise BadValue(control_number, "was used already", "give this submission's own number")
    carried = ""
    if returned is not None:
        carried = returned_number(returned, request.subject_id)
    return Submission.objects.create(
        request=request,
        session=session,
        control_number=control_number,
        returned_control_number=carried,
        sent_at=at or timezone.now(),
    )


def returned_number(returned: Submission, subject_id: int) -> str:
    """The control number to carry, of a set of the same subject that came back and only once."""
    number = returned.control_number
    response = Response.objects.filter(submission=returned).first()
    if response is None or response.kind == ResponseKind.ACCEPTED:
        raise StepRefused(number, "was not returned", "name the submission that came back")
    if returned.request.subject_id != subject_id:
        raise BadValue(number, "is of another subject", "name this subject's returned submission")
    if Submission.objects.filter(returned_control_number=number).exists():
        raise StepRefused(number, "was carried by another submission", "a number is carried once")
    return number


@written
def response_receive(
    *, submission: Submission, kind: ResponseKind, at: datetime | None = None, detail: str = ""
) -> Response:
    """Keep what came back; an image return raises a notice: the subject has to come again."""
    at = at or timezone.now()
    if Response.objects.filter(submission=submission).exists():
        raise ChangedMeanwhile(
            submission.control_number, "has a response already", "read the submission again"
        )
    response = Response.objects.create(
        submission=submission, kind=kind, received_at=at, detail=detail
    )
    if kind == ResponseKind.IMAGE:
        Notice.objects.create(
            request_id=submission.request_id, kind=NoticeKind.RETURNED, raised_at=at
        )
    return response


@written
def response_read(*, response: Response, by: User, at: datetime | None = None) -> Response:
    """Keep that a response was read, by whom and when."""
    count = Response.objects.filter(pk=response.pk, read_at__isnull=True).update(
        read_at=at or timezone.now(), read_by=by
    )
    if count != 1:
        raise ChangedMeanwhile(str(response), "was read already", "look at who read it")
    response.refresh_from_db()
    return response


@written
def response_contacted(*, response: Response, at: datetime | None = None) -> Response:
    """Keep that the subject of a returned set was reached; it must have been read before."""
    count = Response.objects.filter(
        pk=response.pk, read_at__isnull=False, contacted_at__isnull=True
    ).update(contacted_at=at or timezone.now())
    if count != 1:
        raise StepRefused(
            str(response), "is not read, or its subject was contacted", "read the response first"
        )
    response.refresh_from_db()
    return response
