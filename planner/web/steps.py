"""Cancelling, not coming, and coming again once the hands are ready: each says its effect first."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from planner.gateway.offers.take import active_of, seen_of
from planner.web.now import now, today
from planner.web.offers import BOOK, OfRequest, when_words
from planner.web.tell import tell_waiting
from planner.web.words import long_day
from sites.errors import BadValue, ChangedMeanwhile, RecordError, StepRefused
from sites.models import Appointment, ProgrammeVersion
from sites.selectors.missed import may_miss
from sites.services.appointments import appointment_step
from sites.services.rebook import request_not_before

WHY = (
    ("the person asked for it", "The person asked for it"),
    ("the need has ended", "The need has ended"),
    ("booked by mistake", "Booked by mistake"),
    ("the site cannot serve it", "The site cannot serve it"),
)
"""Reasons that name no health, family or work of a person: they are kept and read by many."""


class CancelForm(forms.Form):
    """Why an appointment is given back."""

    why = forms.ChoiceField(label="Why", choices=[("", "choose"), *WHY])
    more = forms.CharField(
        label="In other words",
        required=False,
        max_length=120,
        help_text="No names and nothing about health: it is kept with the appointment",
    )

    @property
    def words(self) -> str:
        """The reason as it is kept."""
        return "; ".join(filter(None, (self.cleaned_data["why"], self.cleaned_data["more"])))


class StepPage(OfRequest):
    """A form that takes one step, shown with its effect; stale forms come back with status 409."""

    rule = BOOK
    template_name = "web/step.html"
    title = ""
    does = ""
    form: type[forms.Form] = forms.Form

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The form and what it would change."""
        present = active_of(self.one)
        kwargs.setdefault("form", self.make_form(None))
        return super().get_context_data(
            title=self.title,
            does=self.does,
            present=present,
            when=when_words(present) if present else "",
            seen=seen_of(present),
            **kwargs,
        )

    def make_form(self, data: Any) -> forms.Form:
        """The form, empty or as it was sent."""
        return self.form(data)

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Take the step if the request still is what its person saw."""
        form, present = self.make_form(request.POST), active_of(self.one)
        self.ensure_here(present)
        status = 200
        if form.is_valid():
            try:
                if seen_of(present) != request.POST.get("seen"):
                    return self.changed(form, present)
                return self.done(form, present)
            except ChangedMeanwhile:
                return self.changed(form, active_of(self.one))
            except RecordError as error:
                form.add_error(None, f"{error.value} {error.problem}: {error.remedy}.")
                status = 409 if isinstance(error, StepRefused) else 200
        page = self.get_context_data(**self.kwargs, form=form)
        return self.render_to_response(page, status=status)  # type: ignore[no-any-return]

    def changed(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Somebody was faster: say so, show what holds now, keep what was typed."""
        page = self.get_context_data(**self.kwargs, form=form, changed=True)
        return self.render_to_response(page, status=409)  # type: ignore[no-any-return]

    def done(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Take the step and go on."""
        raise NotImplementedError


class CancelPage(StepPage):
    """Give an appointment back, with a reason."""

    title = "Cancel the appointment"
    does = "Cancel it"
    form = CancelForm

    def done(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Cancel."""
        if present is None:
            raise BadValue(self.one.reference, "has no appointment", "nothing is to be cancelled")
        why = cast("CancelForm", form).words
        appointment_step(appointment=present, action="cancel", by=self.user, why=why, at=now())
        messages.success(self.request, f"Cancelled: {when_words(present)}. The time is free again.")
        tell_waiting(self.request, present)
        return redirect("request", self.one.reference)


class MissedPage(StepPage):
    """Keep that nobody came."""

    title = "The person did not come"
    does = "Keep that nobody came"

    def done(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Mark it, and go on to other times."""
        if present is None or not may_miss(present, now()):
            raise BadValue(
                self.one.reference,
                "has no appointment whose time has come",
                "cancel it if the person says ahead that they cannot come",
            )
        appointment_step(appointment=present, action="no_show", by=self.user, at=now())
        messages.success(
            self.request, f"Kept: nobody came, {when_words(present)}. Find another time."
        )
        tell_waiting(self.request, present)
        return redirect("offers", self.one.reference)


class LaterForm(forms.Form):
    """From which day the person can be printed."""

    first = forms.ChoiceField(label="The hands need", widget=forms.RadioSelect)
    other = forms.DateField(
        label="The day, if another",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
    )

    def __init__(self, data: Any, terms: ProgrammeVersion, day: date) -> None:
        super().__init__(data)
        self.day = day
        kinds = (
            ("hand care before another try", terms.hand_care_days),
            ("a cut, a blister or what a bandage covers to heal", terms.healing_days),
            ("a cast to come off, which may take up to 42 days", terms.cast_days),
        )
        self.days = {str(n): day + timedelta(days=days) for n, (_, days) in enumerate(kinds)}
        cast("forms.ChoiceField", self.fields["first"]).choices = [
            *(
                (str(n), f"{words}: from {long_day(self.days[str(n)])} ({days} days)")
                for n, (words, days) in enumerate(kinds)
            ),
            ("other", "another day, as the person or their practitioner says"),
        ]

    def clean(self) -> dict[str, Any]:
        """The day, given or counted."""
        values = super().clean() or {}
        chosen = values.get("first")
        if chosen == "other" and not values.get("other"):
            self.add_error("other", "Give the day.")
        elif chosen:
            values["day"] = values["other"] if chosen == "other" else self.days[chosen]
        return values


class LaterPage(StepPage):
    """Not before a day: hand care or healing first."""

    title = "Hands not ready: come again later"
    does = "Keep it, and find a time from then on"

    def make_form(self, data: Any) -> forms.Form:
        """With the days that the request's programme gives."""
        return LaterForm(data, self.one.terms, today())

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """What of it is late or impossible is said before."""
        return super().get_context_data(later=True, **kwargs)

    def done(self, form: forms.Form, present: Appointment | None) -> HttpResponse:
        """Keep the day, and go to the times from then on."""
        day = form.cleaned_data["day"]
        if day > self.one.due and self.request.POST.get("late_seen") != day.isoformat():
            page = self.get_context_data(
                **self.kwargs, form=form, late=day, late_days=(day - self.one.due).days
            )
            return self.render_to_response(page)  # type: ignore[no-any-return]
        given_back = request_not_before(
            request=self.one, day=day, today=today(), by=self.user, at=now()
        )
        words = f"Kept: not before {long_day(day)}."
        if given_back is not None:
            words += f" The appointment of {long_day(given_back.day)} is cancelled."
        messages.success(self.request, words)
        if given_back is not None:
            tell_waiting(self.request, given_back)
        return redirect(f"{reverse('offers', args=[self.one.reference])}?first={day.isoformat()}")
