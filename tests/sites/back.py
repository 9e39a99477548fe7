"""Sets that came back, for tests: captured, sent and answered on chosen days."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from sites.models import (
    FingerPosition,
    ImpressionType,
    Request,
    Response,
    ResponseKind,
    Session,
    SessionEnd,
    Submission,
)
from sites.services.sessions import attempt_record, session_end, session_identity_check
from sites.services.submissions import response_receive, submission_send
from tests.sites.build import DAY, World

SENT = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
"""Noon of `DAY`, a Monday; 13:00 at the site."""


def captured(here: World, request: Request, minute: int = 600, causes: Any = ()) -> Session:
    """A complete set, with a retake for each of these causes."""
    return completed(here, here.session(request, minute), causes)


def completed(here: World, session: Session, causes: Any = ()) -> Session:
    """The same for a session that runs."""
    session_identity_check(session=session, by=here.taker, at=SENT)
    for number, cause in enumerate(causes, 1):
        for kept in (False, True):
            attempt_record(
                session=session,
                position=FingerPosition(number),
                impression=ImpressionType.LIVE_ROLLED,
                kept=kept,
                cause=None if kept else cause,
            )
    Session.objects.filter(pk=session.pk).update(started_at=SENT - timedelta(minutes=20))
    session.refresh_from_db()
    return session_end(session=session, how=SessionEnd.COMPLETE, by=here.taker, at=SENT)


def sent(
    here: World, name: str, number: str, minute: int = 600, causes: Any = (), **values: Any
) -> Submission:
    """A new request's set, sent at `SENT`."""
    request = here.request(name, **values)
    session = captured(here, request, minute, causes)
    return submission_send(session=session, control_number=number, at=SENT)


def came_back(submission: Submission, kind: ResponseKind, days: int = 1) -> Response:
    """What came back, some days after it was sent."""
    return response_receive(submission=submission, kind=kind, at=SENT + timedelta(days=days))


def today(days: int) -> Any:
    """The date some days after `DAY`."""
    return DAY + timedelta(days=days)
