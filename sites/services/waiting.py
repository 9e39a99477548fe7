"""The waiting list: joining and leaving it, and putting a free time to who is next."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Q
from django.utils import timezone

from sites.access import require_here
from sites.clock import Span, visit_span
from sites.errors import BadValue, ChangedMeanwhile, SlotTaken
from sites.models import (
    Appointment,
    Proposal,
    ProposalAnswer,
    Request,
    Site,
    Station,
    Technician,
    User,
    Waiting,
    WaitingEnd,
)
from sites.services.write import written


@dataclass(frozen=True, slots=True)
class Seat:
    """A free time that is put to somebody; ``minute`` and ``told_minute`` past midnight."""

    station: Station
    technician: Technician
    day: date
    minute: int
    minutes: int
    told_minute: int
    p_wait: float

    @property
    def span(self) -> Span:
        """The time in the record's terms."""
        return visit_span(self.station.site.timezone, self.day, self.minute, self.minutes)


@written
def waiting_join(
    *,
    request: Request,
    by: User | None,
    hours_ahead: int,
    site: Site | None = None,
    first_day: date | None = None,
    last_day: date | None = None,
    part: str = "",
    at: datetime | None = None,
) -> Waiting:
    """Put a request on the list, or change what would do for one that is on it.

    Who changes what would do keeps the place in the order. Raises BadValue, NotHere or Busy.
    """
    require_here(by, request, *([site] if site else []))
    if request.closed_at is not None:
        raise BadValue(request.reference, "is closed", "let open requests wait")
    if first_day and last_day and last_day < first_day:
        raise BadValue(f"{last_day}", f"is before {first_day}", "give the days in their order")
    says: dict[str, Any] = {
        "site": site,
        "first_day": first_day,
        "last_day": last_day,
        "part": part,
        "hours_ahead": hours_ahead,
    }
    now = Waiting.objects.select_for_update().filter(request=request, ended_at=None).first()
    if now is None:
        return Waiting.objects.create(request=request, since=at or timezone.now(), by=by, **says)
    Waiting.objects.filter(pk=now.pk).update(**says)
    now.refresh_from_db()
    return now


@written
def waiting_end(
    *, waiting: Waiting, how: WaitingEnd, by: User | None, at: datetime | None = None
) -> Waiting:
    """Take a request off the list; what was proposed to it and not answered lapses.

    Raises ChangedMeanwhile where it is off the list already, NotHere or Busy.
    """
    require_here(by, waiting.request)
    at = at or timezone.now()
    count = Waiting.objects.filter(pk=waiting.pk, ended_at=None).update(ended_at=at, ended_how=how)
    if count != 1:
        raise ChangedMeanwhile(
            waiting.request.reference, "is not waiting any more", "look at the list again"
        )
    Proposal.objects.filter(waiting=waiting, answer="").update(
        answer=ProposalAnswer.LAPSED, answered_at=at, by=by
    )
    waiting.refresh_from_db()
    return waiting


@written
def proposal_make(
    *, waiting: Waiting, seat: Seat, slack: int, at: datetime | None = None
) -> Proposal:
    """Put a free time to somebody. It holds no place, but is put to nobody else meanwhile.

    Raises SlotTaken where the station or the technician is in an open proposal at that time, or
    ChangedMeanwhile where the request waits no longer or has an open proposal, or Busy.
    """
    # One writer at a time for a site: two that look at the same free time would both propose it.
    list(Site.objects.select_for_update(no_key=True).filter(pk=seat.station.site_id))
    if not Waiting.objects.filter(pk=waiting.pk, ended_at=None).exists():
        raise ChangedMeanwhile(f"{waiting.request}", "waits no longer", "look at the list again")
    if waiting.proposals.filter(answer="").exists():
        raise ChangedMeanwhile(
            f"{waiting.request}", "has a proposal that nobody answered", "answer that one first"
        )
    span = seat.span
    if open_in(span).filter(Q(station=seat.station) | Q(technician=seat.technician)).exists():
        raise SlotTaken("that time", "is put to somebody else", "wait for their answer")
    return Proposal.objects.create(
        waiting=waiting,
        station=seat.station,
        technician=seat.technician,
        told_minute=seat.told_minute,
        p_wait=seat.p_wait,
        slack=slack,
        made_at=at or timezone.now(),
        **span,
    )


def open_in(span: Span) -> Any:
    """Open proposals that share a minute with a time."""
    return Proposal.objects.filter(
        answer="", starts_at__lt=span["ends_at"], ends_at__gt=span["starts_at"]
    )


@written
def proposal_answer(
    *,
    proposal: Proposal,
    answer: ProposalAnswer,
    by: User | None,
    appointment: Appointment | None = None,
    at: datetime | None = None,
) -> Proposal:
    """Keep what became of a proposal; who took one is off the list.

    Raises ChangedMeanwhile where it was answered already, NotHere or Busy.
    """
    require_here(by, proposal.waiting.request, proposal.station)
    at = at or timezone.now()
    count = Proposal.objects.filter(pk=proposal.pk, answer="").update(
        answer=answer, answered_at=at, by=by, appointment=appointment
    )
    if count != 1:
        raise ChangedMeanwhile(
            f"the proposal of {proposal.day}", "was answered already", "look at the list again"
        )
    if answer == ProposalAnswer.TAKEN:
        Waiting.objects.filter(pk=proposal.waiting_id, ended_at=None).update(
            ended_at=at, ended_how=WaitingEnd.TOOK
        )
    proposal.refresh_from_db()
    return proposal
