"""One request's page: what happened, and the one thing to do now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from planner.gateway.offers.answer import Answer
from planner.gateway.offers.ask import ask
from planner.gateway.offers.take import active_of, seen_of
from planner.web.now import now, today
from planner.web.offers import OfRequest, numbered
from planner.web.requests import NEXT, Line
from planner.web.words import clock, long_day
from sites.access import person_shown
from sites.errors import BadValue
from sites.models import Appointment, LeftOut
from sites.selectors.missed import may_miss
from sites.selectors.returns import control_numbers_returned
from sites.selectors.slack import booked_at
from sites.selectors.standing import Standing
from sites.selectors.timeline import request_timeline
from sites.selectors.waiting import waiting_of
from sites.step import Step

FEW = 3
"""Times that the page itself proposes."""
TO_PLACE = (Standing.TO_BOOK, Standing.DISPLACED, Standing.EXPIRED)


@dataclass(frozen=True, slots=True)
class Todo:
    """The one thing to do now, by when, and whether that has passed."""

    what: str
    by: str
    late: bool = False


def todo(one: Any, standing: Standing, present: Appointment | None, day: date) -> Todo:
    """What is next and by when.

    A set is sent within one business day of its capture (11 Ill. Adm. Code 1800.1240), responses
    are read every working day (31 Miss. Code R. 1-10.20); the due date is the programme's.
    """
    what = NEXT[standing]
    if standing in {Standing.BOOKED, Standing.ARRIVED} and present is not None:
        when = f"{long_day(present.day)}, {clock(present.told_minute)}"
        return Todo(what, when, present.day < day)
    if standing in {Standing.TO_BOOK, Standing.DISPLACED}:
        return Todo(what, f"a time before {long_day(one.due)}, when it is due", one.due < day)
    if standing == Standing.EXPIRED:
        return Todo(what, f"it expired on {long_day(one.expires)}", late=True)
    if standing in {
        Standing.CAPTURED,
        Standing.RETURNED_UNREAD,
        Standing.RETURNED_IMAGE,
        Standing.RETURNED_DATA,
        Standing.RETURNED_TRANSMISSION,
    }:
        return Todo(what, "today, or the next working day")
    return Todo(what, "")


class RequestPage(OfRequest):
    """What happened to one request, what is next, by when."""

    template_name = "web/request.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The request with its timeline, what may be done with it, and its rework."""
        day: date = today()
        one, standing = self.one, Standing(self.one.standing)
        present = active_of(one)
        return super().get_context_data(
            line=Line(one, standing, booked_at([one]).get(one.pk)),
            todo=todo(one, standing, present, day),
            present=present,
            to_place=standing in TO_PLACE,
            may_miss=may_miss(present, now()),
            person=person_shown(user=self.user, request=one, now=now()),
            waiting=waiting_of(request=one),
            left_out=left_out(one, standing),
            happenings=request_timeline(request=one),
            reworks=list(one.reworks.order_by("received")),
            returns=list(control_numbers_returned(request=one)),
            choices=list(one.at_sites.select_related("site").order_by("travel")),
            times=list(one.times.filter(day__gte=day - timedelta(days=1))),
            **kwargs,
        )


class NextPart(OfRequest):
    """Why a request has no place, and the first times that would do: loaded after the page."""

    template_name = "web/request_next.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The reason and a few times."""
        present = active_of(self.one)
        context: dict[str, Any] = {"seen": seen_of(present), "present": present}
        try:
            found = ask(self.one, now=now(), sites=self.sites(), top=FEW)
            context |= {
                "answer": found,
                "rows": numbered(found.times),
                "why": why_unplaced(self.one, present, found),
            }
        except BadValue as error:
            context["refused"] = error
        return super().get_context_data(**context, **kwargs)


def left_out(one: Any, standing: Standing) -> LeftOut | None:
    """What the last planning run said of a request that has no place."""
    if standing not in TO_PLACE:
        return None
    return LeftOut.objects.filter(request=one.pk).select_related("run").first()


def why_unplaced(one: Any, present: Appointment | None, found: Answer) -> str:
    """Why it is not booked, as far as the record knows, where there are times."""
    if present is not None:
        return f"It lost its place: {present.why or 'no reason was kept'}."
    if not found.times:
        return ""
    last = one.appointments.order_by("-starts_at").first()
    if last is not None and last.step == Step.NO_SHOW:
        return f"Nobody came on {long_day(last.day)}, and nobody has booked it again."
    if last is not None and last.step == Step.CANCELLED:
        return f"Its appointment was cancelled: {last.why or 'no reason was kept'}."
    first = found.times[0]
    if first.late:
        return "No free time is left before it is due; the next plan or a coordinator must choose."
    return "No plan and no coordinator has booked it yet; there are free times."
