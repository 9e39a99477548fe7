"""The waiting list at work: a time that came free is put to who is next, once.

Whoever has the least slack is asked first, then whoever has waited longest. A time is looked for
as for a caller: it keeps every promise, lies in what the person said would do, and leaves the
hours that they need to hear of it. Where the programme allows it, who is next is booked
without a question; else a coordinator confirms.
"""

from __future__ import annotations

import logging
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet

from planner.engine.errors import PlatenError
from planner.gateway.offers.answer import Time
from planner.gateway.offers.ask import ask
from planner.gateway.offers.desk import Checked
from planner.gateway.offers.narrow import Narrow
from planner.gateway.offers.take import Wish, active_of, place_of, seen_of, take
from sites.clock import date_words, instant, minute_words, visit_span, wall
from sites.errors import BadValue, ChangedMeanwhile, RecordError, SlotTaken
from sites.models import (
    Appointment,
    Proposal,
    ProposalAnswer,
    Request,
    RequestSite,
    Site,
    Step,
    User,
    Waiting,
    WaitingEnd,
)
from sites.selectors.standing import Standing
from sites.selectors.waiting import MAY_WAIT, open_proposals, waiting_in_order
from sites.services.waiting import Seat, proposal_answer, proposal_make, waiting_end

log = logging.getLogger(__name__)
STAYS = (Standing.EXPIRED, Standing.ON_HOLD)
"""Where a request stands that is not asked now and keeps its place on the list."""
LOOKED = 40
"""Free times of one person that are looked at before the next is asked."""


@dataclass(frozen=True, slots=True)
class Served:
    """What the list did: put a time to a request, or booked it (``appointment``)."""

    reference: str
    site: Site
    day: date
    told: int
    appointment: Appointment | None

    def __str__(self) -> str:
        when = f"{date_words(self.day)}, told {minute_words(self.told)}, at {self.site.name}"
        if self.appointment is not None:
            return f"{self.reference} took it from the waiting list: {when}"
        return f"it is put to {self.reference}, next on the waiting list: {when}"


def serve_waiting(
    *, now: datetime, sites: Collection[Site], day: date | None = None
) -> list[Served]:
    """Put free times at these sites to who waits, in order; ``day`` narrows to one day.

    Whoever has an open proposal keeps it and is not asked again. What is put to somebody is put to
    nobody else. Called twice it does nothing the second time, unless more came free.
    """
    lapse_past(now=now)
    served = []
    checked: Checked = set()
    for waiting, request in waiting_in_order(today=now.date(), requests=requests_at(sites)):
        if request.standing not in {*MAY_WAIT, *STAYS}:
            _over(waiting, now)
        elif request.standing in MAY_WAIT and not waiting.open_ones:  # type: ignore[attr-defined]
            found = _serve(waiting, request, now, sites, day, checked)
            served += [] if found is None else [found]
    return served


def requests_at(sites: Collection[Site]) -> QuerySet[Request]:
    """Requests that one of these sites could take."""
    there = RequestSite.objects.filter(request=OuterRef("pk"))
    return Request.objects.filter(Exists(there.filter(site__in=sites)) | ~Exists(there))


def _over(waiting: Waiting, now: datetime) -> None:
    """Whoever was captured or closed meanwhile needs no time any more: nobody's decision."""
    try:
        waiting_end(waiting=waiting, how=WaitingEnd.OVER, by=None, at=now)
    except ChangedMeanwhile:
        return  # somebody took it off the list at the same moment


def _serve(
    waiting: Waiting,
    request: Any,
    now: datetime,
    sites: Collection[Site],
    day: date | None,
    checked: Checked,
) -> Served | None:
    """Put the best time that would do to one who waits."""
    present = active_of(request)
    for time in _would_do(waiting, request, present, now, sites, day, checked):
        seat = seat_of(time)
        try:
            proposal = proposal_make(waiting=waiting, seat=seat, slack=request.slack.days, at=now)
        except SlotTaken:
            continue  # it is put to somebody else: the next time may be free
        except ChangedMeanwhile:
            return None
        booked = None
        if request.terms.waiting_automatic:
            checked.clear()  # a booking changes what is free
            try:
                booked = accept_proposal(proposal, by=None, now=now, sites=sites)
            except SlotTaken:
                continue
        return Served(request.reference, time.site, time.day, time.told, booked)
    return None


def _would_do(
    waiting: Waiting,
    request: Any,
    present: Appointment | None,
    now: datetime,
    sites: Collection[Site],
    day: date | None,
    checked: Checked,
) -> list[Time]:
    """Free times that the person said would do, heard of early enough, best first."""
    first, last = waiting.first_day, waiting.last_day
    if day is not None:
        if (first and day < first) or (last and day > last):
            return []
        first = last = day
    if present is not None and present.step == Step.BOOKED:
        # Who has a place waits for an earlier one.
        last = min(last or present.day, present.day)
    if first and last and last < first:
        return []
    narrow = Narrow(first, last, waiting.site.code if waiting.site else "", waiting.part)
    heard = now + timedelta(hours=waiting.hours_ahead)
    try:
        answer = ask(request, now=heard, sites=sites, narrow=narrow, top=LOOKED, checked=checked)
    except BadValue:
        return []
    taken = list(open_proposals())
    refused = set(
        waiting.proposals.filter(answer=ProposalAnswer.DECLINED).values_list(
            "station__site__code", "day", "told_minute"
        )
    )
    return [
        time
        for time in answer.times
        if not time.now
        and earlier(time, present)
        and (time.site.code, time.day, time.told) not in refused
        and not _put(time, taken)
    ]


def earlier(time: Time, present: Appointment | None) -> bool:
    """Whether a time is better than the place that somebody has: sooner."""
    if present is None or present.step != Step.BOOKED:
        return True
    return instant(time.site.timezone, time.day, time.minute) < present.starts_at


def _put(time: Time, taken: list[Proposal]) -> bool:
    """Whether station or technician are in an open proposal then."""
    span = visit_span(time.site.timezone, time.day, time.minute, time.minutes)
    return any(
        row.starts_at < span["ends_at"]
        and row.ends_at > span["starts_at"]
        and (row.station.code == time.station or row.technician.code == time.technician)
        for row in taken
    )


def seat_of(time: Time) -> Seat:
    """A free time as the record's services take it."""
    return Seat(**place_of(time))


def accept_proposal(
    proposal: Proposal,
    *,
    by: User | None,
    now: datetime,
    sites: Collection[Site],
    why: str = "from the waiting list",
) -> Appointment:
    """Book, or move, who was asked to the time that was proposed.

    Raises SlotTaken where it went to somebody else: the proposal lapses, and the request goes on
    waiting; ChangedMeanwhile where it was answered already; or what `take` raises.
    """
    if proposal.answer:
        raise ChangedMeanwhile(
            f"the proposal of {date_words(proposal.day)}",
            "was answered already",
            "look at the list again",
        )
    request = proposal.waiting.request
    wanted = Wish(proposal.station.site.code, proposal.day, proposal.told_minute)
    try:
        appointment, _ = take(
            request,
            wanted,
            by=by,
            now=now,
            sites=sites,
            seen=seen_of(active_of(request)),
            why=why,
        )
    except SlotTaken:
        proposal_answer(proposal=proposal, answer=ProposalAnswer.LAPSED, by=by, at=now)
        raise
    proposal_answer(
        proposal=proposal,
        answer=ProposalAnswer.TAKEN,
        by=by,
        appointment=appointment,
        at=now,
    )
    return appointment


def lapse_past(*, now: datetime) -> int:
    """Proposals whose time has come without an answer lapse; how many."""
    count = 0
    for proposal in open_proposals().filter(starts_at__lte=now):
        try:
            proposal_answer(proposal=proposal, answer=ProposalAnswer.LAPSED, by=None, at=now)
            count += 1
        except RecordError:
            continue  # answered at this very moment
    return count


def freed(appointment: Appointment, *, now: datetime) -> list[Served]:
    """After an appointment gave its place back: put its day to who waits, unless it is over."""
    site = appointment.station.site
    if appointment.day < wall(site.timezone, now)[0]:
        return []
    return serve_waiting(now=now, sites=[site], day=appointment.day)


def freed_when_kept(appointment: Appointment, *, now: datetime) -> None:
    """`freed`, once the present transaction is committed: see `day_served_when_kept`."""
    site = appointment.station.site
    if appointment.day >= wall(site.timezone, now)[0]:
        day_served_when_kept(site, appointment.day, now=now)


def day_served_when_kept(site: Site, day: date, *, now: datetime) -> None:
    """Put a site's day to who waits, once the present transaction is committed.

    What was given back or declined stays so, whatever comes of this.
    """

    def serve() -> None:
        try:
            serve_waiting(now=now, sites=[site], day=day)
        except (RecordError, PlatenError):
            log.warning("the waiting list of %s was not asked for %s", site.code, day)

    transaction.on_commit(serve)
