"""Sessions: started, identity check done, attempts, missing fingers, overrides, ended."""

from __future__ import annotations

from datetime import date, datetime

from django.utils import timezone

from sites.access import require_here
from sites.errors import BadValue, ChangedMeanwhile, StepRefused
from sites.models import (
    Appointment,
    Attempt,
    MissingFinger,
    Override,
    OverrideKind,
    Scanner,
    Session,
    SessionEnd,
    User,
)
from sites.models.codes import Algorithm, Cause, FingerPosition, ImpressionType, MissingCode
from sites.selectors.care import scanner_placement
from sites.selectors.quality import short_captures
from sites.services.appointments import take_step
from sites.services.write import written


@written
def session_start(
    *,
    appointment: Appointment,
    by: User,
    at: datetime | None = None,
    scanner: Scanner | None = None,
) -> Session:
    """Start the session of an appointment whose subject has arrived.

    The scanner is the one that stands on the station unless given. Raises StepRefused.
    """
    require_here(by, appointment)
    at = at or timezone.now()
    take_step(appointment, "start", by=by, at=at)
    if scanner is None:
        placement = scanner_placement(station=appointment.station, day=appointment.day)
        scanner = placement.scanner if placement else None
    return Session.objects.create(appointment=appointment, scanner=scanner, started_at=at)


@written
def session_identity_check(*, session: Session, by: User, at: datetime | None = None) -> Session:
    """Keep that the identity check was done, by whom and when; never what it showed."""
    require_here(by, session)
    running(session)
    count = Session.objects.filter(pk=session.pk, identity_checked_at__isnull=True).update(
        identity_checked_at=at or timezone.now(), identity_checked_by=by
    )
    if count != 1:
        raise ChangedMeanwhile(
            str(session), "has an identity check already", "read the session again"
        )
    session.refresh_from_db()
    return session


@written
def session_end(
    *,
    session: Session,
    how: SessionEnd,
    by: User,
    at: datetime | None = None,
    note: str = "",
) -> Session:
    """End a session.

    A complete set needs the identity check, and an override for every capture that stayed short of
    its threshold; it is then a set with an override. Raises StepRefused or BadValue.
    """
    require_here(by, session)
    running(session)
    overridden = session.overrides.exists()
    complete = how in {SessionEnd.COMPLETE, SessionEnd.OVERRIDE}
    if complete and session.identity_checked_at is None:
        raise StepRefused("end", "has no identity check", "do the check, or end it as broken off")
    if complete and (how == SessionEnd.OVERRIDE) != overridden:
        raise BadValue(
            how.label, "does not agree with the overrides kept", "record or leave out the override"
        )
    if complete:
        allowed = set(session.overrides.values_list("position", flat=True))
        for short in short_captures(session=session):
            if short.position not in allowed:
                raise StepRefused(
                    short.get_position_display(),
                    f"stayed short with {short.get_algorithm_display()} {short.score}",
                    "take it again, or record an override with its reason",
                )
    at = at or timezone.now()
    count = Session.objects.filter(pk=session.pk, ended_at__isnull=True).update(
        ended_at=at, ended_how=how, note=note
    )
    if count != 1:
        raise ChangedMeanwhile(str(session), "has ended already", "read the session again")
    take_step(session.appointment, "finish", by=by, at=at)
    session.refresh_from_db()
    return session


@written
def attempt_record(
    *,
    session: Session,
    position: FingerPosition,
    impression: ImpressionType,
    kept: bool = False,
    algorithm: Algorithm | None = None,
    algorithm_version: str = "",
    score: int | None = None,
    cause: Cause | None = None,
    seconds: float | None = None,
) -> Attempt:
    """Record one more attempt at an impression, up to the attempts that the terms allow."""
    running(session)
    most = session.appointment.request.terms.attempts_per_capture
    before = session.attempts.filter(position=position, impression=impression)
    number = before.count() + 1
    if number > most:
        raise StepRefused(
            f"attempt {number}",
            f"is one more than the {most} that the programme allows",
            "keep the best attempt, with an override where it is short",
        )
    if kept:
        before.filter(kept=True).update(kept=False)
    if (score is None) != (algorithm is None) or (algorithm and not algorithm_version):
        raise BadValue("score", "needs its algorithm and version", "give all three or none")
    return Attempt.objects.create(
        session=session,
        position=position,
        impression=impression,
        number=number,
        kept=kept,
        algorithm=algorithm or "",
        algorithm_version=algorithm_version,
        score=score,
        cause=cause or "",
        seconds=seconds,
    )


@written
def missing_record(
    *,
    session: Session,
    position: FingerPosition,
    code: MissingCode,
    review_on: date | None = None,
) -> MissingFinger:
    """Record a finger that was not printed; for now (UP) with the day to look again."""
    running(session)
    if (code == MissingCode.UNPRINTABLE) != (review_on is not None):
        raise BadValue(
            code.label, "has a review date only where it is for now", "give it for UP, not for XX"
        )
    return MissingFinger.objects.create(
        session=session, position=position, code=code, review_on=review_on
    )


@written
def override_record(
    *,
    session: Session,
    position: FingerPosition,
    kind: OverrideKind,
    reason: str,
    by: User,
    second: User | None = None,
    at: datetime | None = None,
) -> Override:
    """Record that a capture is sent on although it fell short, as far as the terms allow it."""
    require_here(by, session)
    require_here(second, session)
    running(session)
    terms = session.appointment.request.terms
    if not terms.override_allowed:
        raise StepRefused("override", "is not allowed by the programme", "book another session")
    if not reason.strip():
        raise BadValue("override", "has no reason", "say why")
    if second == by or (terms.override_second_person and second is None):
        raise StepRefused("override", "needs a second person", "ask a colleague to confirm it")
    return Override.objects.create(
        session=session,
        position=position,
        kind=kind,
        reason=reason,
        by=by,
        second=second,
        at=at or timezone.now(),
    )


def running(session: Session) -> None:
    """Raise StepRefused where the session is over."""
    if not Session.objects.filter(pk=session.pk, ended_at__isnull=True).exists():
        raise StepRefused(str(session), "has ended", "nothing is added to a session that is over")
