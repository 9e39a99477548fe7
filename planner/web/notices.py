"""Notices to subjects: what has to be seen to, one notice as it is read, and its calendar file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_safe

from planner.web.access import Page, asks
from planner.web.now import now
from planner.web.requests import whole
from sites.access import Person, may, notices_visible, people_shown, person_shown
from sites.models import TO_DO, Notice, NoticeKind, NoticeState, User
from sites.notices.letter import WITH_CALENDAR
from sites.notices.shown import calendar_shown, letter_shown
from sites.selectors.notices import notices_by_state, notices_listed, numbered
from sites.services.notices import OPEN, notice_again, notice_told, notices_again

PAGE = 50


@dataclass(frozen=True, slots=True)
class Chip:
    """A count of the strip."""

    state: NoticeState
    count: int
    chosen: bool


@dataclass(frozen=True, slots=True)
class Line:
    """A notice with what may be seen of its subject."""

    notice: Notice
    person: Person

    @property
    def todo(self) -> bool:
        """Whether a person has to see to it."""
        return self.notice.state in TO_DO


class NoticesPage(Page):
    """Who has not been told, and why; what failed is sent again from here."""

    template_name = "web/notices.html"
    place = "requests"
    rule = "notices.see"
    rule_to_write = "notices.change"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The strip and one page of the list, in a fixed number of queries."""
        asked = self.request.GET
        rows = notices_visible(self.user)
        if words := asked.get("q", "").strip():
            rows = rows.filter(request__reference__iexact=words)
        if asked.get("kind") in NoticeKind.values:
            rows = rows.filter(kind=asked["kind"])
        counts = notices_by_state(notices=rows)
        state = asked.get("state", "")
        states = [NoticeState(state)] if state in NoticeState.values else list(TO_DO)
        if state == "all" or words:
            states = list(NoticeState)
        total = sum(counts.get(each, 0) for each in states)
        pages = max(1, -(-total // PAGE))
        number = min(max(1, whole(asked.get("page"))), pages)
        found = list(
            notices_listed(notices=rows, states=states)[(number - 1) * PAGE : number * PAGE]
        )
        people = people_shown(user=self.user, requests={one.request for one in found}, now=now())
        return super().get_context_data(
            chips=[Chip(each, count, states == [each]) for each, count in counts.items()],
            lines=[Line(one, people[one.request_id]) for one in found],
            kinds=NoticeKind.choices,
            kind=asked.get("kind", ""),
            words=words,
            state=state,
            total=total,
            number=number,
            pages=pages,
            failed=counts.get(NoticeState.FAILED, 0),
            may_change=may(self.user, "notices.change"),
            mail=bool(settings.MAIL),
            **kwargs,
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Let everything that failed be sent again."""
        count = notices_again(notices=notices_visible(self.user))
        messages.success(request, f"{count} wait to be sent again.")
        return redirect("notices")


class NoticePage(Page):
    """One notice as its subject reads it, to look at, to print, and to see to."""

    template_name = "web/notice.html"
    place = "requests"
    rule = "notices.see"
    rule_to_write = "notices.change"

    def notice(self) -> Notice:
        """The notice of the address, if it is in view."""
        return notice_asked(self.user, self.kwargs["reference"], self.kwargs["number"])

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The letter as things stand; the name where it may be seen."""
        notice = self.notice()
        person = person_shown(user=self.user, request=notice.request, now=now())
        return super().get_context_data(
            notice=notice,
            person=person,
            letter=letter_shown(notice, named=bool(person.name)),
            calendar=notice.kind in WITH_CALENDAR and notice.appointment is not None,
            open=notice.state in OPEN,
            again=notice.state in TO_DO,
            may_change=may(self.user, "notices.change"),
            **kwargs,
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Told by a person, or to be sent again."""
        notice = self.notice()
        acts: dict[str, Callable[[Notice], str]] = {"told": self.told, "again": self.again}
        act = acts.get(request.POST.get("do", ""))
        messages.success(request, act(notice) if act else "Nothing was changed.")
        return redirect("notices") if request.POST.get("back") else redirect(request.path)

    def told(self, notice: Notice) -> str:
        """Somebody told the subject."""
        notice_told(notice=notice, by=self.user, at=now())
        return "It is kept that the subject was told."

    def again(self, notice: Notice) -> str:
        """Send it again."""
        notice_again(notice=notice)
        return "It waits to be sent; a receiver who has it already can drop it."


def notice_asked(user: User, reference: str, number: int) -> Notice:
    """A notice in view, with all that its letter needs. Raises Http404."""
    rows = notices_visible(user).select_related(
        "request__subject", "request__terms__programme", "appointment__station__site", "told_by"
    )
    found: Notice = get_object_or_404(numbered(rows), request__reference=reference, number=number)
    return found


@require_safe
@asks("notices.see")
def notice_calendar(request: HttpRequest, reference: str, number: int) -> HttpResponse:
    """The calendar file of a notice, without anybody's address."""
    user = request.user
    notice = notice_asked(user, reference, number) if isinstance(user, User) else None
    file = calendar_shown(notice, at=now()) if notice else None
    if file is None:
        raise Http404("This notice has no calendar file.")
    return HttpResponse(
        file,
        content_type="text/calendar; charset=utf-8",
        headers={"Content-Disposition": 'attachment; filename="appointment.ics"'},
    )
