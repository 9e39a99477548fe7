"""Returned requests: the queue by step and age, and what is done about one return."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from planner.web.access import Page
from planner.web.now import now, today, today_at
from planner.web.returned_forms import FixForm, ReworkForm
from sites.access import (
    may,
    person_shown,
    requests_visible,
    responses_visible,
    sessions_visible,
)
from sites.errors import BadValue
from sites.models import ExceptionRoute, Notice, NoticeKind, Response, ResponseKind
from sites.selectors.advice import rework_advice
from sites.selectors.notices import numbered
from sites.selectors.returns import (
    AGES,
    DESK,
    Todo,
    returns_by_age,
    returns_todo,
    returns_waiting,
    routes_open,
    sets_unsent,
)
from sites.services.exceptions import exception_ask
from sites.services.returns import (
    response_fixed,
    response_reached,
    responses_mark_read,
)
from sites.services.submissions import response_read

SHOWN = 200
"""Rows of the queue on a page; what is older comes first, so that work shortens it."""
UNSENT = 50
"""Sets on a page that were captured and not sent on, the oldest; the list of requests has all."""


@dataclass(frozen=True, slots=True)
class Step:
    """A row of the ageing table."""

    todo: Todo
    counts: list[tuple[str, int]]
    total: int
    chosen: bool
    desk: bool


class ReturnedPage(Page):
    """Who must come again, who has not been told, and what the desk still has to do."""

    template_name = "web/returned.html"
    place = "requests"
    rule = "returns.see"
    rule_to_write = "returns.change"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The table over the whole queue, and the rows that the address asks for."""
        day, asked = today(), self.request.GET
        rows = returns_todo(responses=responses_visible(self.user))
        waiting = returns_waiting(rows=rows, today=day)
        table = returns_by_age(waiting)
        todo, age = asked.get("step", ""), asked.get("age", "")
        found = [
            each for each in waiting if todo in ("", each.todo.value) and age in ("", each.band)
        ]
        steps = [
            Step(
                each,
                [(band, counts[band]) for band, _, _ in AGES],
                sum(counts.values()),
                todo == each.value,
                each in DESK,
            )
            for each, counts in table.items()
        ]
        shown = found[:SHOWN]
        unsent, all_unsent = sets_unsent(today=day, rows=sessions_visible(self.user), most=UNSENT)
        return super().get_context_data(
            steps=steps,
            bands=[band for band, _, _ in AGES],
            waiting=shown,
            total=len(found),
            chosen=bool(todo or age),
            unread=any(each.todo == Todo.READ for each in shown),
            routes=list(routes_open(today=day, requests=requests_visible(self.user))),
            unsent=unsent,
            more_unsent=all_unsent - len(unsent),
            may_change=may(self.user, "returns.change"),
            today=day,
            **kwargs,
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Mark the ticked ones as read."""
        keys = [int(key) for key in request.POST.getlist("response") if key.isdigit()]
        rows = responses_visible(self.user).select_related("submission").filter(pk__in=keys)
        count = responses_mark_read(responses=list(rows), by=self.user, at=now())
        words = "1 response is" if count == 1 else f"{count} responses are"
        messages.success(request, f"{words} read. Subjects of image returns are being told.")
        return redirect(request.get_full_path())


class ReturnPage(Page):
    """One return: read it, reach the subject, ask for the session that follows, or send again."""

    template_name = "web/return.html"
    place = "requests"
    rule = "returns.see"
    rule_to_write = "returns.change"

    def response_asked(self) -> Any:
        """The response of the address, if it is in view."""
        rows = returns_todo(responses=responses_visible(self.user)).select_related(
            "submission__request__subject",
            "submission__request__terms__programme",
            "submission__request__profile",
            "submission__session__appointment__station__site",
            "read_by",
        )
        told = numbered(Notice.objects.filter(kind=NoticeKind.RETURNED))
        return get_object_or_404(
            rows.prefetch_related(Prefetch("submission__request__notices", told, to_attr="told")),
            submission__control_number=self.kwargs["number"],
        )

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The return with what is to be done, the recommendation and the exception route."""
        response = kwargs.pop("response", None) or self.response_asked()
        returned = response.submission.request
        image = response.kind == ResponseKind.IMAGE
        free = image and not response.reworked and returned.closed_at is None
        advice = rework_advice(response=response, today=today()) if free else None
        if advice is not None:
            kwargs.setdefault("form", ReworkForm.advised(advice, user=self.user, returned=returned))
        kwargs.setdefault("fix", FixForm())
        return super().get_context_data(
            response=response,
            returned=returned,
            todo=Todo(response.todo),
            image=image,
            advice=advice,
            route=ExceptionRoute.objects.filter(request=returned)
            .select_related("asked_by")
            .first(),
            person=person_shown(user=self.user, request=returned, now=now()),
            site=response.submission.session.appointment.station.site,
            may_change=may(self.user, "returns.change"),
            today=today(),
            **kwargs,
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Do what the button says; a form with faults is shown again."""
        response = self.response_asked()
        acts: dict[str, Callable[[Any], HttpResponse | str]] = {
            "read": self.read,
            "reached": self.reached,
            "ask": self.ask,
            "fix": self.fix,
            "exception": self.exception,
        }
        act = acts.get(request.POST.get("do", ""))
        done = act(response) if act else "Nothing was changed."
        if isinstance(done, HttpResponse):
            return done
        messages.success(request, done)
        return redirect("return", response.submission.control_number)

    def read(self, response: Response) -> str:
        """Mark it read."""
        response_read(response=response, by=self.user, at=now())
        if response.kind == ResponseKind.IMAGE:
            return "It is read. The subject is told by email, or listed to be phoned."
        return "It is read."

    def reached(self, response: Response) -> str:
        """Mark the subject as reached."""
        response_reached(response=response, by=self.user, at=now())
        return "The subject has been reached."

    def ask(self, response: Response) -> HttpResponse | str:
        """Ask for the session that follows."""
        returned = response.submission.request
        form = ReworkForm(self.request.POST, user=self.user, returned=returned)
        if form.is_valid():
            try:
                made = form.save(response, today=today())
            except BadValue as error:
                form.add_error(None, f"{error.value} {error.problem}: {error.remedy}.")
            else:
                return f"Request {made.reference} asks for the session; planning uses it from now."
        page = self.get_context_data(response=response, form=form)
        return self.render_to_response(page)  # type: ignore[no-any-return]

    def fix(self, response: Response) -> HttpResponse | str:
        """Keep that the same set was sent again."""
        form = FixForm(self.request.POST)
        if form.is_valid():
            number = form.cleaned_data["control_number"]
            try:
                response_fixed(response=response, control_number=number, at=now())
            except BadValue as error:
                form.add_error("control_number", f"{error.problem}: {error.remedy}.")
            else:
                return f"Sent again under {number}; it carries the returned number."
        page = self.get_context_data(response=response, fix=form)
        return self.render_to_response(page)  # type: ignore[no-any-return]

    def exception(self, response: Response) -> str:
        """Keep that the check by name was asked for."""
        request = response.submission.request
        route = get_object_or_404(ExceptionRoute, request=request)
        site = response.submission.session.appointment.station.site
        exception_ask(route=route, by=self.user, today=today_at(site), at=now())
        return "It is kept that the check by name was asked for; nobody has to come."
