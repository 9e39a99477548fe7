"""Offers: when could this person come. Ranked times, narrowed live, and taken by one key."""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils.functional import cached_property

from planner.gateway.offers.answer import Answer, Time
from planner.gateway.offers.ask import TOP, ask
from planner.gateway.offers.narrow import Narrow, skills_of
from planner.gateway.offers.take import active_of, ensure_here, seen_of, take, wish
from planner.web.access import Page
from planner.web.now import now, today
from planner.web.words import clock, long_day
from sites.access import may, requests_visible
from sites.errors import AlreadyBooked, BadValue, ChangedMeanwhile, DoesNotFit, SlotTaken
from sites.models import Appointment, Site
from sites.selectors.slack import requests_slack
from sites.selectors.standing import Standing

KEYS = 9
"""Times that a single key takes."""
MOST = 60
STALE = (SlotTaken, ChangedMeanwhile, AlreadyBooked, DoesNotFit)
"""What the page answers with fresh times: somebody was faster, or the record changed."""
DONE = {
    "booked": "{who} is booked: {when}. A notice for the person is raised.",
    "moved": "{who} is moved: {when}. A notice for the person is raised.",
    "stands": "{who} has that time already: {when}. Nothing was changed.",
}


class NarrowForm(forms.Form):
    """Which times to show; all of it in the URL."""

    first = forms.DateField(
        label="From day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    last = forms.DateField(
        label="To day", required=False, widget=forms.DateInput(attrs={"type": "date"})
    )
    site = forms.ChoiceField(label="Place", required=False)
    part = forms.ChoiceField(
        label="Part of day",
        required=False,
        choices=[("", "any"), ("am", "before noon"), ("pm", "from noon on")],
    )
    skill = forms.ChoiceField(label="Technician with", required=False)
    top = forms.IntegerField(required=False, min_value=1, max_value=MOST, widget=forms.HiddenInput)

    def __init__(self, data: Any, sites: list[Site], skills: list[str]) -> None:
        super().__init__(data)
        places = [("", "any"), *((site.code, site.name) for site in sites)]
        cast("forms.ChoiceField", self.fields["site"]).choices = places
        cast("forms.ChoiceField", self.fields["skill"]).choices = [
            ("", "any"),
            *((skill, skill) for skill in skills),
        ]

    def clean(self) -> dict[str, Any]:
        """Days in their order."""
        values = super().clean() or {}
        first, last = values.get("first"), values.get("last")
        if first and last and last < first:
            self.add_error("last", "This day is before the first one.")
        return values

    def narrow(self) -> Narrow:
        """What the engine is asked; fields with a fault are left out, and the page says so."""
        self.is_valid()
        values = self.cleaned_data
        return Narrow(
            first=values.get("first"),
            last=values.get("last"),
            site=values.get("site") or "",
            part=values.get("part") or "",
            skill=values.get("skill") or "",
        )

    @property
    def how_many(self) -> int:
        """How many times to show."""
        return self.cleaned_data.get("top") or TOP


BOOK = "bookings.change"


class OfRequest(Page):
    """A page of one request that is in view."""

    rule = "requests.see"
    place = "requests"

    @cached_property
    def one(self) -> Any:
        """The request with where it stands."""
        rows = requests_slack(today=today(), requests=requests_visible(self.user)).select_related(
            "subject", "terms__programme", "profile", "rework_of"
        )
        return get_object_or_404(rows, reference=self.kwargs["reference"])

    def ensure_here(self, present: Appointment | None) -> None:
        """Raise PermissionDenied where the appointment is at a site that is not theirs."""
        ensure_here(self.user, present)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The request, where it stands, and what this person may do."""
        return super().get_context_data(
            one=self.one,
            standing=Standing(self.one.standing),
            may_book=may(self.user, BOOK),
            today=today(),
            **kwargs,
        )


class OffersPage(OfRequest):
    """When could this person come."""

    rule = BOOK
    template_name = "web/offers.html"
    fragment = "web/offers_times.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The times, their keys, and what else could be done."""
        sites = self.sites()
        form = NarrowForm(self.request.GET, sites, skills_of(sites))
        narrow = form.narrow()
        present = active_of(self.one)
        context: dict[str, Any] = {"form": form, "present": present, "seen": seen_of(present)}
        try:
            found = ask(self.one, now=now(), sites=sites, narrow=narrow, top=form.how_many)
            context |= shown(found, form)
        except BadValue as error:
            context["refused"] = error
        return super().get_context_data(**{**context, **kwargs})

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Take a time, or say who was faster and show what is free now."""
        self.ensure_here(active_of(self.one))
        try:
            appointment, what = take(
                self.one,
                wish(request.POST.get("take", "")),
                by=self.user,
                now=now(),
                sites=self.sites(),
                seen=request.POST.get("seen", ""),
                why=request.POST.get("why", "").strip()[:200],
            )
        except STALE as error:
            page = self.get_context_data(**self.kwargs, stale=error)
            return self.render_to_response(page, status=409)  # type: ignore[no-any-return]
        messages.success(
            request, DONE[what].format(who=self.one.reference, when=when_words(appointment))
        )
        return redirect("request", self.one.reference)


def shown(found: Answer, form: NarrowForm) -> dict[str, Any]:
    """An answer as the template shows it."""
    return {
        "answer": found,
        "rows": list(numbered(found.times)),
        "more": len(found.times) == form.how_many < MOST,
        "next_top": min(MOST, 2 * form.how_many),
        "narrowed": form.narrow() != Narrow(),
    }


def numbered(times: tuple[Time, ...]) -> list[tuple[int | None, Time]]:
    """Times with the key that takes each; those after the ninth have none."""
    return [(n if n <= KEYS else None, time) for n, time in enumerate(times, start=1)]


def when_words(one: Appointment) -> str:
    """Day, told time and place of an appointment."""
    place = one.station.site.name
    return f"{long_day(one.day)}, told {clock(one.told_minute)}, at {place}"
