"""Everything that happened to one request, in order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timezone

from sites.clock import minute_words
from sites.models import Appointment, AppointmentEvent, Request, Session, Submission, User


@dataclass(frozen=True, slots=True)
class Happening:
    """One dated line. ``at`` is an instant, or a date where only the day is known.

    ``zone`` is the clock to read the instant on; ``who`` is empty where no person did it.
    """

    at: datetime | date
    what: str
    detail: str = ""
    who: str = ""
    zone: str = "UTC"

    @property
    def order(self) -> tuple[datetime, int]:
        """Sorts by time; a bare date stands at the start of its day."""
        if isinstance(self.at, datetime):
            return self.at, 1
        return datetime.combine(self.at, time(tzinfo=timezone.utc)), 0


EVENTS = {
    "book": "booked",
    "move": "moved",
    "displace": "lost its place",
    "cancel": "cancelled",
    "arrive": "arrived",
    "take_back": "arrival taken back",
    "no_show": "did not come",
    "start": "session started",
    "finish": "session over",
}


def request_timeline(*, request: Request) -> list[Happening]:
    """What happened to a request, oldest first, in six queries however long it is."""
    found = [Happening(request.received, "received", f"due {request.due:%Y-%m-%d}")]
    if request.release != request.received:
        found.append(Happening(request.release, "released", "may be booked from this day on"))
    if request.closed_at:
        found.append(Happening(request.closed_at, "closed without a set", request.closed_why))
    events = AppointmentEvent.objects.filter(appointment__request=request)
    for event in events.select_related("appointment__station__site", "by"):
        found.append(of_appointment(event))
    sessions = Session.objects.filter(appointment__request=request).select_related(
        "appointment__station__site", "identity_checked_by", "scanner"
    )
    for session in sessions.prefetch_related("attempts", "missing", "overrides"):
        found += of_session(session)
    sent = Submission.objects.filter(request=request)
    for submission in sent.select_related("response__read_by"):
        found += of_submission(submission)
    return sorted(found, key=lambda each: each.order)


def of_appointment(event: AppointmentEvent) -> Happening:
    """A step of an appointment."""
    one: Appointment = event.appointment
    detail = event.why
    if event.what in {"book", "move"}:
        place = f"{one.station.site}, {one.station}, {one.day:%Y-%m-%d}"
        latest = f"{place} at {minute_words(one.told_minute)}"
        detail = "; ".join(filter(None, [latest if event.what == "book" else "", event.why]))
    words = EVENTS.get(event.what, event.what.replace("_", " "))
    return Happening(event.at, words, detail, name(event.by), one.station.site.timezone)


def of_session(session: Session) -> Iterator[Happening]:
    """The identity check and the end of a session. What the check showed is not kept."""
    zone = session.appointment.station.site.timezone
    if session.identity_checked_at:
        by = name(session.identity_checked_by)
        yield Happening(session.identity_checked_at, "identity check done", "", by, zone)
    if session.ended_at:
        tries = list(session.attempts.all())
        captures = {(each.position, each.impression) for each in tries}
        parts = [session.get_ended_how_display().lower()]
        if tries:
            again = len(tries) - len(captures)
            parts.append(f"{len(captures)} captures, {again} of the {len(tries)} attempts retakes")
        if count := len(session.missing.all()):
            parts.append(f"{count} fingers not printed")
        if count := len(session.overrides.all()):
            parts.append(f"{count} overrides")
        yield Happening(session.ended_at, "session ended", ", ".join(parts), "", zone)


def of_submission(submission: Submission) -> Iterator[Happening]:
    """A set sent on and what came back."""
    carried = submission.returned_control_number
    words = f"control number {submission.control_number}"
    words += f", in place of {carried}" if carried else ""
    yield Happening(submission.sent_at, "sent on", words)
    response = getattr(submission, "response", None)
    if response is None:
        return
    yield Happening(response.received_at, response.get_kind_display().lower(), response.detail)
    if response.read_at:
        yield Happening(response.read_at, "response read", "", name(response.read_by))
    if response.contacted_at:
        yield Happening(response.contacted_at, "subject contacted")


def name(user: User | None) -> str:
    """A login, as it signs."""
    return "" if user is None else user.get_username()
