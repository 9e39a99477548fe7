"""A time that came free goes to who is next, once: by slack, then by who has waited longest."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connections

from planner.gateway.offers.waiting import accept_proposal, freed, serve_waiting
from sites.errors import BadValue, ChangedMeanwhile, SlotTaken
from sites.models import (
    Appointment,
    ProgrammeVersion,
    Proposal,
    ProposalAnswer,
    Shift,
    Site,
    Step,
    Waiting,
    WaitingEnd,
)
from sites.services.appointments import appointment_step
from sites.services.holds import requests_hold, requests_release
from sites.services.waiting import proposal_answer, waiting_end, waiting_join
from tests.gateway.offers.conftest import NEXT, asked, staffed
from tests.sites.build import DAY, NOW, World

LATER = NEXT + timedelta(days=1)


def full(here: World) -> Appointment:
    """One technician, there on one day for one session, which is booked."""
    holder = here.request("holder")
    minutes = asked(holder, first=LATER, last=LATER).times[0].minutes
    Shift.objects.exclude(technician=here.technicians[0], day=LATER).delete()
    row = Shift.objects.get()
    ends = row.starts_at + timedelta(minutes=minutes + 4)
    Shift.objects.update(minutes=minutes + 4, ends_at=ends)
    return here.book(holder, 480, day=LATER, minutes=minutes)


def waits(here: World, name: str, due: date, hours: int, **values: Any) -> Waiting:
    """A request that has waited since so many hours before now."""
    request = here.request(name, due=due)
    return waiting_join(
        request=request,
        by=here.desk,
        at=NOW - timedelta(hours=hours),
        **{"hours_ahead": 24, **values},
    )


def cancelled(here: World, one: Appointment) -> Appointment:
    """Give the place back."""
    return appointment_step(
        appointment=one, action="cancel", by=here.desk, why="the person asked for it", at=NOW
    )


def test_a_freed_time_is_put_to_the_least_slack_then_to_the_longest_wait(here: World) -> None:
    held = full(here)
    waits(here, "roomy", DAY + timedelta(days=9), 90)
    waits(here, "short", DAY + timedelta(days=4), 1)
    first = waits(here, "tight", DAY + timedelta(days=4), 50)
    assert serve_waiting(now=NOW, sites=[here.site]) == []
    served = freed(cancelled(here, held), now=NOW)
    assert [(each.reference, each.day, each.told) for each in served] == [("tight", LATER, 480)]
    assert Proposal.objects.get().waiting == first
    assert served[0].appointment is None


def test_it_is_put_to_one_person_once(here: World) -> None:
    one = full(here)
    waits(here, "a", DAY + timedelta(days=4), 50)
    waits(here, "b", DAY + timedelta(days=5), 50)
    cancelled(here, one)
    assert len(serve_waiting(now=NOW, sites=[here.site])) == 1
    assert serve_waiting(now=NOW, sites=[here.site]) == []
    assert Proposal.objects.count() == 1


def test_who_takes_it_is_booked_and_off_the_list(here: World) -> None:
    held = full(here)
    waiting = waits(here, "a", DAY + timedelta(days=4), 50)
    freed(cancelled(here, held), now=NOW)
    proposal = Proposal.objects.get()
    booked = accept_proposal(proposal, by=here.desk, now=NOW, sites=[here.site])
    assert (booked.request.reference, booked.day, booked.told_minute) == ("a", LATER, 480)
    waiting.refresh_from_db()
    proposal.refresh_from_db()
    assert (waiting.ended_how, proposal.answer) == (WaitingEnd.TOOK, ProposalAnswer.TAKEN)
    with pytest.raises(ChangedMeanwhile):
        accept_proposal(proposal, by=here.desk, now=NOW, sites=[here.site])


def test_who_declines_goes_on_waiting_and_the_next_is_asked(here: World) -> None:
    held = full(here)
    waits(here, "a", DAY + timedelta(days=4), 50)
    waits(here, "b", DAY + timedelta(days=5), 50)
    freed(cancelled(here, held), now=NOW)
    proposal_answer(
        proposal=Proposal.objects.get(), answer=ProposalAnswer.DECLINED, by=here.desk, at=NOW
    )
    assert [each.reference for each in serve_waiting(now=NOW, sites=[here.site])] == ["b"]
    assert Waiting.objects.filter(ended_at=None).count() == 2


def test_where_the_programme_allows_it_who_is_next_is_booked(here: World) -> None:
    held = full(here)
    ProgrammeVersion.objects.update(waiting_automatic=True)
    waits(here, "a", DAY + timedelta(days=4), 50)
    waits(here, "b", DAY + timedelta(days=5), 50)
    served = freed(cancelled(here, held), now=NOW)
    assert [each.reference for each in served] == ["a"]
    assert "took it from the waiting list" in str(served[0])
    booked = Appointment.objects.get(request__reference="a")
    assert (booked.step, booked.why) == (Step.BOOKED, "from the waiting list")
    assert serve_waiting(now=NOW, sites=[here.site]) == []


def test_a_time_that_somebody_else_booked_lapses_and_the_wait_goes_on(here: World) -> None:
    held = full(here)
    waiting = waits(here, "a", DAY + timedelta(days=4), 50)
    freed(cancelled(here, held), now=NOW)
    here.book(here.request("faster"), 480, day=LATER, minutes=held.minutes)
    with pytest.raises(SlotTaken):
        accept_proposal(Proposal.objects.get(), by=here.desk, now=NOW, sites=[here.site])
    waiting.refresh_from_db()
    assert Proposal.objects.get().answer == ProposalAnswer.LAPSED
    assert waiting.ended_at is None


@pytest.mark.parametrize(
    "would_do",
    [
        {"part": "pm"},
        {"first_day": LATER + timedelta(days=1)},
        {"last_day": NEXT},
        {"hours_ahead": 24 * 5},
    ],
)
def test_a_time_that_would_not_do_is_not_proposed(here: World, would_do: dict[str, Any]) -> None:
    held = full(here)
    waits(here, "a", DAY + timedelta(days=4), 50, **would_do)
    assert freed(cancelled(here, held), now=NOW) == []


def test_who_has_a_place_is_asked_for_earlier_ones_only(here: World) -> None:
    late = here.request("late")
    here.book(late, 600, day=NEXT)
    waiting_join(request=late, by=here.desk, hours_ahead=0, at=NOW)
    served = serve_waiting(now=NOW, sites=[here.site])
    assert [(each.reference, each.day) for each in served] == [("late", DAY)]
    booked = accept_proposal(Proposal.objects.get(), by=here.desk, now=NOW, sites=[here.site])
    assert booked.day == DAY
    assert [event.what for event in booked.events.all()] == ["book", "move"]


def test_who_needs_no_time_any_more_leaves_the_list(here: World) -> None:
    waiting = waits(here, "a", DAY + timedelta(days=4), 50)
    here.book(waiting.request, 600)
    appointment_step(appointment=waiting.request.appointments.get(), action="arrive", by=here.desk)
    assert serve_waiting(now=NOW, sites=[here.site]) == []
    waiting.refresh_from_db()
    assert waiting.ended_how == WaitingEnd.OVER


def test_who_is_on_hold_is_not_asked_and_keeps_the_place_on_the_list(here: World) -> None:
    waiting = waits(here, "a", DAY + timedelta(days=4), 50)
    requests_hold(requests=[waiting.request], why="papers are missing", by=here.desk, at=NOW)
    assert serve_waiting(now=NOW, sites=[here.site]) == []
    with pytest.raises(BadValue, match="on hold"):
        asked(waiting.request)
    requests_release(requests=[waiting.request], by=here.desk, at=NOW)
    assert [each.reference for each in serve_waiting(now=NOW, sites=[here.site])] == ["a"]


def test_who_joins_again_keeps_the_place_in_the_order(here: World) -> None:
    first = waits(here, "a", DAY + timedelta(days=4), 50)
    again = waiting_join(request=first.request, by=here.desk, hours_ahead=2, part="am", at=NOW)
    assert (again.pk, again.since, again.part) == (first.pk, first.since, "am")
    waiting_end(waiting=again, how=WaitingEnd.STOPPED, by=here.desk, at=NOW)
    with pytest.raises(ChangedMeanwhile):
        waiting_end(waiting=first, how=WaitingEnd.STOPPED, by=here.desk, at=NOW)


@pytest.mark.django_db(transaction=True)
def test_a_freed_time_is_put_to_one_even_when_four_look_at_once() -> None:
    here = staffed()
    one = full(here)
    for n in range(3):
        waits(here, f"w-{n}", DAY + timedelta(days=4 + n), 50)
    cancelled(here, one)
    meet = threading.Barrier(4)

    def look(_: int) -> int:
        try:
            meet.wait(timeout=60)
            return len(serve_waiting(now=NOW, sites=list(Site.objects.all())))
        finally:
            connections.close_all()

    with ThreadPoolExecutor(4) as pool:
        assert sum(pool.map(look, range(4))) == 1
    assert Proposal.objects.get().waiting.request.reference == "w-0"
    call_command("check_record")
