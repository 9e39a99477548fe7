"""Sending sets on, and what comes back."""

from __future__ import annotations

from datetime import datetime

from django.db.models import DateTimeField, Value
from django.db.models.functions import Greatest
from django.utils import timezone

from sites.access import require_here
from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    TO_DO,
    Notice,
    NoticeKind,
    NoticeState,
    Request,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Submission,
    User,
)
from sites.services.exceptions import exception_open
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

    Unless given it is the request's own, or that of the request whose rework this is: the returned
    set's control number is carried, once (31 Miss. Code R. 1-10.20). Raises StepRefused, BadValue.
    """
    if session.ended_how not in {SessionEnd.COMPLETE, SessionEnd.OVERRIDE}:
        raise StepRefused(str(session), "has no complete set", "end the session first")
    request = session.appointment.request
    if not control_number.strip():
        raise BadValue("control number", "is empty", "give the number of this submission")
    if Submission.objects.filter(control_number=control_number).exists():
        raise BadValue(control_number, "was used already", "give this submission's own number")
    carried = ""
    returned = returned or to_replace(request)
    if returned is not None:
        carried = returned_number(returned, request.subject_id)
    return Submission.objects.create(
        request=request,
        session=session,
        control_number=control_number,
        returned_control_number=carried,
        sent_at=at or timezone.now(),
    )


def to_replace(request: Request) -> Submission | None:
    """The newest returned submission that a set of this request replaces, carried by none yet."""
    carried = Submission.objects.exclude(returned_control_number="")
    return (
        Submission.objects.filter(request__in=[request.pk, request.rework_of_id])
        .filter(response__isnull=False)
        .exclude(response__kind=ResponseKind.ACCEPTED)
        .exclude(control_number__in=carried.values("returned_control_number"))
        .order_by("-sent_at", "-pk")
        .first()
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
    *,
    submission: Submission,
    kind: ResponseKind,
    at: datetime | None = None,
    detail: str = "",
    code: str = "",
) -> Response:
    """Keep what came back; a second image return of one need opens the exception route."""
    at = at or timezone.now()
    if at < submission.sent_at:
        raise BadValue(
            submission.control_number, "was answered before it was sent", "check the date"
        )
    if Response.objects.filter(submission=submission).exists():
        raise ChangedMeanwhile(
            submission.control_number, "has a response already", "read the submission again"
        )
    response = Response.objects.create(
        submission=submission, kind=kind, received_at=at, detail=detail, code=code
    )
    if kind == ResponseKind.IMAGE:
        exception_open(submission=submission, at=at)
    return response


@written
def response_read(*, response: Response, by: User, at: datetime | None = None) -> Response:
    """Keep that a response was read, by whom and when; an image return is told to the subject."""
    require_here(by, response)
    at = max(at or timezone.now(), response.received_at)
    count = Response.objects.filter(pk=response.pk, read_at__isnull=True).update(
        read_at=at, read_by=by
    )
    if count != 1:
        raise ChangedMeanwhile(str(response), "was read already", "look at who read it")
    if response.kind == ResponseKind.IMAGE:
        request = response.submission.request_id
        Notice.objects.create(request_id=request, kind=NoticeKind.RETURNED, raised_at=at)
    response.refresh_from_db()
    return response


@written
def response_contacted(
    *, response: Response, by: User | None = None, at: datetime | None = None
) -> Response:
    """Keep that the subject of a returned set was reached; it must have been read before.

    Notices of the return that had not reached the subject are told by this.
    """
    require_here(by, response)
    at = at or timezone.now()
    count = Response.objects.filter(
        pk=response.pk, read_at__isnull=False, contacted_at__isnull=True
    ).update(contacted_at=Greatest("read_at", Value(at, output_field=DateTimeField())))
    if count != 1:
        raise StepRefused(
            str(response), "is not read, or its subject was contacted", "read the response first"
        )
    response.refresh_from_db()
    Notice.objects.filter(
        request=response.submission.request_id,
        kind=NoticeKind.RETURNED,
        state__in=[NoticeState.WAITING, *TO_DO],
    ).update(state=NoticeState.TOLD, told_at=response.contacted_at, told_by=by, fault="")
    return response
