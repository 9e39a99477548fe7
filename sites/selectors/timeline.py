"""Everything that happened to one request, in order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from sites.clock import date_words, minute_words
from sites.models import (
    Appointment,
    AppointmentEvent,
    Hold,
    Proposal,
    ProposalAnswer,
    Request,
    Session,
    Submission,
    User,
    Waiting,
)


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
        return datetime.combine(self.at, time(tzinfo=UTC)), 0


EVENTS = {
    "book": "booked",
    "move": "moved",
    "displace": "lost its place",
    "cancel": "cancelled",
    "arrive": "arrived",
    "take_back": "arrival taken back",
    "no_show": "did not come",
    "start": "session started",
    "finish": "session ended",
}


def request_timeline(*, request: Request) -> list[Happening]:
    """What happened to a request, oldest first, in nine queries however long it is."""
    found = [Happening(request.received, "received", f"due {date_words(request.due)}")]
    if request.release != request.received:
        found.append(Happening(request.release, "released", "may be booked from this day on"))
    if request.closed_at:
        found.append(Happening(request.closed_at, "closed without a set", request.closed_why))
    sessions = Session.objects.filter(appointment__request=request).select_related(
        "appointment__station__site", "identity_checked_by"
    )
    ended: dict[int, str] = {}
    checks: list[Happening] = []
    for session in sessions.prefetch_related("attempts", "missing", "overrides"):
        ended[session.appointment_id] = how_it_ended(session)
        checks += checked(session)
    events = AppointmentEvent.objects.filter(appointment__request=request)
    for event in events.select_related("appointment__station__site", "by"):
        found.append(of_appointment(event, ended.get(event.appointment_id, "")))
    found += checks
    for hold in request.holds.select_related("by", "released_by"):
        found += of_hold(hold)
    sent = Submission.objects.filter(request=request)
    for submission in sent.select_related(
        "response__read_by", "session__appointment__station__site"
    ):
        found += of_submission(submission)
    for wait in request.waits.select_related("by"):
        found += of_waiting(wait)
    proposals = Proposal.objects.filter(waiting__request=request)
    for proposal in proposals.select_related("station__site", "by"):
        found += of_proposal(proposal)
    return sorted(found, key=lambda each: each.order)


def of_waiting(wait: Waiting) -> Iterator[Happening]:
    """Put on the waiting list, and off it."""
    yield Happening(wait.since, "put on the waiting list", "", name(wait.by))
    if wait.ended_at:
        yield Happening(wait.ended_at, "off the waiting list", wait.get_ended_how_display().lower())


def of_proposal(proposal: Proposal) -> Iterator[Happening]:
    """A free time that was put to the person, and what became of it."""
    site = proposal.station.site
    when = f"{site}, {date_words(proposal.day)} at {minute_words(proposal.told_minute)}"
    zone = site.timezone
    yield Happening(proposal.made_at, "a free time proposed", when, "", zone)
    if proposal.answered_at and proposal.answer != ProposalAnswer.TAKEN:
        said = proposal.get_answer_display().lower()
        yield Happening(proposal.answered_at, f"proposal {said}", when, name(proposal.by), zone)


def of_appointment(event: AppointmentEvent, ended: str) -> Happening:
    """A step of an appointment; ``ended`` is what is said where it is the end of its session."""
    one: Appointment = event.appointment
    parts = [event.why]
    if event.what == "book":
        place = f"{one.station.site}, {one.station}, {date_words(one.day)}"
        parts = [f"{place} at {minute_words(one.told_minute)}", event.why]
    elif event.what == "finish":
        parts = [ended, event.why]
    words = EVENTS.get(event.what, event.what.replace("_", " "))
    detail = "; ".join(filter(None, parts))
    return Happening(event.at, words, detail, name(event.by), one.station.site.timezone)


def checked(session: Session) -> Iterator[Happening]:
    """The identity check: that it was done, never what it showed."""
    if session.identity_checked_at:
        by = name(session.identity_checked_by)
        zone = session.appointment.station.site.timezone
        yield Happening(session.identity_checked_at, "identity check done", "", by, zone)


def how_it_ended(session: Session) -> str:
    """How a session ended and what it took; empty while it runs."""
    if not session.ended_at:
        return ""
    tries = list(session.attempts.all())
    captures = {(each.position, each.impression) for each in tries}
    parts = [session.get_ended_how_display().lower()]
    if tries:
        parts.append(count(len(captures), "capture"))
        parts.append(count(len(tries) - len(captures), "retake"))
    if missing := len(session.missing.all()):
        parts.append(f"{count(missing, 'finger')} not printed")
    if overrides := len(session.overrides.all()):
        parts.append(count(overrides, "override"))
    return ", ".join(parts)


def count(number: int, word: str) -> str:
    """``1 capture``, ``2 captures``."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def of_hold(hold: Hold) -> Iterator[Happening]:
    """A hold and its end."""
    until = f"; until {date_words(hold.until)}" if hold.until else ""
    yield Happening(hold.since, "put on hold", f"{hold.why}{until}", name(hold.by))
    if hold.released_at:
        yield Happening(hold.released_at, "hold ended", "", name(hold.released_by))


def of_submission(submission: Submission) -> Iterator[Happening]:
    """A set sent on and what came back."""
    zone = submission.session.appointment.station.site.timezone
    carried = submission.returned_control_number
    words = f"control number {submission.control_number}"
    words += f", in place of {carried}" if carried else ""
    yield Happening(submission.sent_at, "sent on", words, "", zone)
    response = getattr(submission, "response", None)
    if response is None:
        return
    back = response.get_kind_display().lower()
    yield Happening(response.received_at, back, response.detail, "", zone)
    if response.read_at:
        yield Happening(response.read_at, "response read", "", name(response.read_by), zone)
    if response.contacted_at:
        yield Happening(response.contacted_at, "subject contacted", "", "", zone)


def name(user: User | None) -> str:
    """A login, as it signs."""
    return "" if user is None else user.get_username()
