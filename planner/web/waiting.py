"""The waiting list: who would take a time that comes free, and what was put to whom."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect

from planner.gateway.offers.waiting import accept_proposal, serve_waiting
from planner.web.access import Page
from planner.web.now import now, today
from planner.web.offers import BOOK, when_words
from planner.web.steps import StepPage
from planner.web.tell import said_of
from planner.web.words import long_day
from sites.access import may, requests_visible
from sites.errors import BadValue, RecordError
from sites.models import (
    Appointment,
    DayPart,
    Proposal,
    ProposalAnswer,
    Site,
    User,
    Waiting,
    WaitingEnd,
)
from sites.models.waiting import HOURS_AHEAD
from sites.selectors.waiting import waiting_in_order, waiting_of
from sites.services.waiting import proposal_answer, waiting_end, waiting_join


@dataclass(frozen=True, slots=True)
class Place:
    """A row of the list: who waits, for what, and what was proposed (None: nothing yet)."""

    number: int
    waiting: Waiting
    request: Any
    proposal: Proposal | None

    @property
    def would_do(self) -> str:
        """Which times would do, in words."""
        one = self.waiting
        parts = [
            one.site.name if one.site else "",
            f"from {long_day(one.first_day)}" if one.first_day else "",
            f"to {long_day(one.last_day)}" if one.last_day else "",
            DayPart(one.part).label.lower() if one.part else "",
        ]
        said = ", ".join(filter(None, parts)) or "any time"
        return f"{said}; told {one.hours_ahead} h ahead"


class WaitingPage(Page):
    """Who waits, in the order in which a free time is put to them."""

    rule = "waiting.see"
    rule_to_write = BOOK
    template_name = "web/waiting.html"
    place = "requests"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The list of the sites in view."""
        rows = waiting_in_order(today=today(), requests=requests_visible(self.user))
        return super().get_context_data(
            rows=[
                Place(n, wait, request, next(iter(wait.open_ones), None))  # type: ignore[attr-defined]
                for n, (wait, request) in enumerate(rows, start=1)
            ],
            may_book=may(self.user, BOOK),
            **kwargs,
        )

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Look for times, or answer one proposal."""
        try:
            for line in self.act(request, self.user, self.sites()):
                messages.success(request, line)
        except RecordError as error:
            page = self.get_context_data(stale=error, **self.kwargs)
            return self.render_to_response(page, status=409)  # type: ignore[no-any-return]
        return redirect("waiting")

    def act(self, request: HttpRequest, user: User, sites: list[Site]) -> list[str]:
        """What the button asks for, and what came of it."""
        data = request.POST
        if "accept" in data:
            one = proposal_of(data["accept"], sites)
            booked = accept_proposal(one, by=user, now=now(), sites=sites)
            return [f"{one.waiting.request} has the time: {when_words(booked)}."]
        if "decline" in data:
            one = proposal_of(data["decline"], sites)
            proposal_answer(proposal=one, answer=ProposalAnswer.DECLINED, by=user, at=now())
            said = [f"{one.waiting.request} does not take it and goes on waiting."]
            here = [one.station.site]
            return said + said_of(serve_waiting(now=now(), sites=here, day=one.day))
        if "look" in data:
            served = serve_waiting(now=now(), sites=sites)
            return said_of(served) or ["Nothing that would do is free now for who still waits."]
        raise BadValue("the form", "asks for nothing", "use one of its buttons")


def proposal_of(text: str, sites: list[Site]) -> Proposal:
    """A proposal at one of the sites. Raises Http404."""
    rows = Proposal.objects.filter(station__site__in=sites).select_related(
        "station__site", "technician", "waiting__request"
    )
    return get_object_or_404(rows, pk=int(text) if text.isdigit() and len(text) < 12 else 0)


class WaitForm(forms.Form):
    """Which times would do."""

    first = forms.DateField(
        label="From day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    last = forms.DateField(
        label="To day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    site = forms.ChoiceField(label="Place", required=False)
    part = forms.ChoiceField(label="Part of day", required=False)
    hours_ahead = forms.IntegerField(
        label="Hours ahead that the person must hear of it",
        min_value=0,
        max_value=24 * 14,
        initial=HOURS_AHEAD,
    )

    def __init__(self, data: Any, sites: list[Site], initial: dict[str, Any]) -> None:
        super().__init__(data, initial=initial)
        places = [("", "any"), *((site.code, site.name) for site in sites)]
        cast("forms.ChoiceField", self.fields["site"]).choices = places
        cast("forms.ChoiceField", self.fields["part"]).choices = [("", "any"), *DayPart.choices]

    def clean(self) -> dict[str, Any]:
        """Days in their order."""
        values = super().clean() or {}
        first, last = values.get("first"), values.get("last")
        if first and last and last < first:
            self.add_error("last", "This day is before the first one.")
        return values


class WaitPage(StepPage):
    """Put a request on the list, or change what would do, or take it off."""

    title = "Wait for a time to come free"
    does = "Put it on the waiting list"

    def make_form(self, data: Any) -> forms.Form:
        """Filled from the list, else from the URL: what the offers were narrowed to."""
        now_on = waiting_of(request=self.one)
        if now_on is not None:
            initial: dict[str, Any] = {
                "first": now_on.first_day,
                "last": now_on.last_day,
                "site": now_on.site.code if now_on.site else "",
                "part": now_on.part,
                "hours_ahead": now_on.hours_ahead,
            }
        else:
            names = ("first", "last", "site", "part")
            initial = {name: self.request.GET.get(name, "") for name in names}
        return WaitForm(data, self.sites(), initial)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Whether it is on the list already."""
        return super().get_context_data(waits=True, waiting=waiting_of(request=self.one), **kwargs)

    def done(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Join or leave, and say what came of it."""
        waiting = waiting_of(request=self.one)
        if "stop" in self.request.POST:
            if waiting is not None:
                waiting_end(waiting=waiting, how=WaitingEnd.STOPPED, by=self.user, at=now())
            messages.success(self.request, f"{self.one.reference} is off the waiting list.")
            return redirect("request", self.one.reference)
        values = form.cleaned_data
        waiting_join(
            request=self.one,
            by=self.user,
            hours_ahead=values["hours_ahead"],
            site=Site.objects.filter(code=values["site"]).first() if values["site"] else None,
            first_day=values["first"],
            last_day=values["last"],
            part=values["part"],
            at=now(),
        )
        messages.success(self.request, f"{self.one.reference} waits for a time to come free.")
        return redirect("waiting")
