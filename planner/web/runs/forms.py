"""The form that asks for a run, and the filters of its lines."""

from __future__ import annotations

import re
from datetime import date
from typing import Any, cast

from django import forms

from planner.gateway.review.lines import WORDS, Kind, Line
from planner.gateway.runs.scope import (
    LONGEST,
    Which,
    requests_asked,
    sites_asked,
    unknown_requests,
)
from sites.access import sites_visible
from sites.models import Site, User

SHOWN = 5
WHICH = [
    (Which.ALL, "all that still need a session"),
    (Which.REWORK, "rework only"),
    (Which.DUE, "those due on or before a day"),
    (Which.LISTED, "those listed below"),
]
SECONDS = [(30, "30 seconds"), (60, "1 minute"), (300, "5 minutes"), (900, "15 minutes"),
           (3600, "1 hour")]  # fmt: skip


class AskForm(forms.Form):
    """What to plan: days, sites, requests, and how long to think."""

    first_day = forms.DateField(
        label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    days = forms.IntegerField(
        label="Days", min_value=1, max_value=LONGEST, help_text="Calendar days, weekends included"
    )
    sites = forms.ModelMultipleChoiceField(
        queryset=Site.objects.none(),
        to_field_name="code",
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Sites (none ticked: all in your view)",
    )
    which = forms.ChoiceField(label="Requests", choices=WHICH)
    due = forms.DateField(
        label="Due on or before",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    listed = forms.CharField(
        label="References",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Separated by spaces, commas or lines; never names",
    )
    seconds = forms.TypedChoiceField(label="Think for", choices=SECONDS, coerce=int)

    def __init__(self, *args: Any, user: User, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user, self.today = user, today
        field = cast("forms.ModelMultipleChoiceField[Any]", self.fields["sites"])
        field.queryset = sites_visible(user)

    def clean_first_day(self) -> date:
        """A plan begins today or later."""
        day: date = self.cleaned_data["first_day"]
        if day < self.today:
            raise forms.ValidationError(f"{day} is past: choose {self.today} or a later day.")
        return day

    def clean(self) -> dict[str, Any]:
        """What a choice of requests needs besides."""
        values = super().clean() or {}
        if values.get("which") == "due" and not values.get("due"):
            self.add_error("due", "Say on or before which day.")
        if values.get("which") == "listed":
            self._known(self._names())
        if not self.errors and not sites_visible(self.user).exists():
            self.add_error(None, "there is no site in your view to plan for")
        if not self.errors and self.references() == []:
            self.add_error("which", "No request in your view needs a session by this choice.")
        return values

    def site_codes(self) -> list[str] | None:
        """The sites to plan; None for all of them, where somebody's view is everything."""
        return sites_asked(self.user, [site.code for site in self.cleaned_data["sites"]])

    def references(self) -> list[str] | None:
        """The requests to plan; None for all that need a session."""
        values = self.cleaned_data
        return requests_asked(
            self.user,
            Which(values["which"]),
            first_day=values["first_day"],
            due=values.get("due"),
            listed=self._names(),
        )

    def _names(self) -> list[str]:
        return sorted(set(re.split(r"[\s,;]+", self.cleaned_data.get("listed", "").strip())) - {""})

    def _known(self, names: list[str]) -> None:
        if not names:
            self.add_error("listed", "Write at least one reference.")
            return
        if unknown := unknown_requests(self.user, names):
            more = f" and {len(unknown) - SHOWN} more" if len(unknown) > SHOWN else ""
            shown = ", ".join(unknown[:SHOWN])
            self.add_error("listed", f"No such request in your view: {shown}{more}.")


class LineFilters(forms.Form):
    """Which lines of a run are shown; all of it in the URL."""

    kind = forms.ChoiceField(required=False, widget=forms.HiddenInput)
    q = forms.CharField(label="Request", required=False, max_length=120)
    site = forms.ChoiceField(label="Site", required=False)
    day = forms.ChoiceField(label="Day", required=False)
    beside = forms.IntegerField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, *args: Any, sites: list[tuple[str, str]], days: list[tuple[str, str]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, choices, empty in (
            ("kind", [(str(key), words) for key, words in WORDS.items()], ""),
            ("site", sites, "any site"),
            ("day", days, "any day"),
        ):
            field = cast(forms.ChoiceField, self.fields[name])
            field.choices = [("", empty), *choices]

    def value(self, name: str) -> Any:
        """A cleaned value; None where it was refused or not given."""
        return self.cleaned_data.get(name) or None

    def shows(self, line: Line) -> bool:
        """Whether a line passes every filter but its kind."""
        there = [place for place in (line.now, line.was) if place is not None]
        words, site, day = self.value("q"), self.value("site"), self.value("day")
        named = not words or line.request.lower().startswith(words.lower())
        placed = not (site or day) or any(
            (not site or place.site == site) and (not day or place.day.isoformat() == day)
            for place in there
        )
        return named and placed

    def kind_of(self, counts: dict[Kind, int]) -> Kind:
        """The kind that is shown: the one asked for, else the first that has a line."""
        asked = self.value("kind")
        if asked:
            return Kind(asked)
        return next((kind for kind in Kind if counts.get(kind)), Kind.NEW)
