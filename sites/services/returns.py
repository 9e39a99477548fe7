"""Responses by the file, reading many at once, rework as recommended, and sets sent again."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from sites.errors import ChangedMeanwhile, StepRefused
from sites.models import Request, Response, ResponseKind, Submission, User
from sites.selectors.advice import rework_advice
from sites.selectors.returns_file import Row
from sites.services.exceptions import exception_open
from sites.services.requests import request_rework
from sites.services.submissions import response_contacted, response_read, submission_send
from sites.services.write import written

BATCH = 500


@written
def responses_register(*, rows: Sequence[Row]) -> int:
    """Keep all of these responses or none; returns how many. Raises ChangedMeanwhile."""
    keys = [row.submission.pk for row in rows]
    for start in range(0, len(keys), BATCH):
        if Response.objects.filter(submission__in=keys[start : start + BATCH]).exists():
            raise ChangedMeanwhile(
                "the file", "was registered in part by somebody else", "read it again"
            )
    Response.objects.bulk_create(
        (
            Response(submission=row.submission, kind=row.kind, code=row.code, received_at=row.at)
            for row in rows
        ),
        batch_size=BATCH,
    )
    for row in rows:
        if row.kind == ResponseKind.IMAGE:
            exception_open(submission=row.submission, at=row.at)
    return len(rows)


@written
def responses_mark_read(*, responses: Sequence[Response], by: User, at: datetime) -> int:
    """Keep that these were read, all or none; those that were read already are left."""
    unread = [each for each in responses if each.read_at is None]
    for response in unread:
        response_read(response=response, by=by, at=at)
    return len(unread)


@written
def response_reached(*, response: Response, by: User, at: datetime) -> Response:
    """Keep that the subject was reached; a response that nobody had read is read by this."""
    if response.read_at is None:
        response_read(response=response, by=by, at=at)
    return response_contacted(response=response, by=by, at=at)


@written
def rework_as_advised(*, response: Response, today: date) -> Request:
    """Ask for rework exactly as recommended, the reasons kept with it."""
    advice = rework_advice(response=response, today=today)
    return request_rework(
        response=response,
        reference=rework_reference(response.submission.request),
        today=today,
        profile=advice.profile,
        release=advice.release,
        due=advice.due,
        skills=advice.skills,
        sites=advice.sites,
        advice=advice.words,
    )


def rework_reference(returned: Request) -> str:
    """A free reference beside the returned request's: ``r-1-2``, ``r-1-3`` for a second rework."""
    stem = returned.reference
    if returned.rework_of_id is not None and stem.rpartition("-")[2].isdigit():
        stem = stem.rpartition("-")[0] or stem
    stem = stem[:58]
    taken = set(
        Request.objects.filter(reference__startswith=f"{stem}-").values_list("reference", flat=True)
    )
    number = returned.resubmissions + 2
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"


@written
def response_fixed(*, response: Response, control_number: str, at: datetime) -> Submission:
    """Close a data or transmission return: the same set was sent again under a new number.

    The returned number is carried; nobody has to come. Raises StepRefused or BadValue.
    """
    if response.kind not in {ResponseKind.DATA, ResponseKind.TRANSMISSION}:
        raise StepRefused(
            str(response), "is not closed by sending again", "the subject has to come again"
        )
    if response.read_at is None:
        raise StepRefused(str(response), "is not read", "read the response first")
    before = response.submission
    return submission_send(
        session=before.session, control_number=control_number, returned=before, at=at
    )
