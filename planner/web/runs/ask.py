"""Asking for a run."""

from __future__ import annotations

from contextlib import suppress
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from planner.gateway.runs import ask
from planner.gateway.runs.scope import USUAL_SECONDS
from planner.web.access import Page
from planner.web.chosen_acts import to_plan
from planner.web.now import today
from planner.web.runs.forms import AskForm
from sites.access import sites_visible

USUAL_DAYS = 14


class AskPage(Page):
    """What to plan, and how long to think; nothing is booked by asking."""

    rule = "runs.start"
    template_name = "web/runs/ask.html"
    place = "requests"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form as it was sent, or with what the URL proposes."""
        kwargs.setdefault("form", AskForm(user=self.user, today=today(), initial=self.usual()))
        return super().get_context_data(
            any_site=sites_visible(self.user).exists(), today=today(), **kwargs
        )

    def usual(self) -> dict[str, Any]:
        """Tomorrow and the two weeks after it; requests come by the URL."""
        chosen = self.request.GET.getlist("request")
        if code := self.request.GET.get("chosen"):
            chosen = to_plan(self.request.session, code, self.user)
        values: dict[str, Any] = {
            "first_day": today() + timedelta(days=1),
            "days": USUAL_DAYS,
            "seconds": USUAL_SECONDS,
            "which": "listed" if chosen else "all",
            "listed": "\n".join(chosen),
        }
        if sites := self.request.GET.getlist("site"):
            values["sites"] = sites
        with suppress(KeyError, ValueError):
            values["first_day"] = date.fromisoformat(self.request.GET["first_day"])
        return values

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Ask; the run's page shows how it goes."""
        form = AskForm(request.POST, user=self.user, today=today())
        if form.is_valid():
            values = form.cleaned_data
            run = ask(
                first_day=values["first_day"],
                days=values["days"],
                sites=form.site_codes(),
                requests=form.references(),
                seconds=values["seconds"],
                by=self.user,
            )
            messages.success(request, "The run is asked for. Nothing is booked until you say so.")
            return redirect("run", run.pk)
        page = self.get_context_data(form=form)
        return self.render_to_response(page, status=422)  # type: ignore[no-any-return]
