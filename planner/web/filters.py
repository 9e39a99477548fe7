"""The filters of the requests list: all of them in the URL, each with its words."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, cast

from django import forms
from django.db.models import Exists, OuterRef, Q, QuerySet

from sites.access import (
    appointments_visible,
    needs_shown,
    requests_visible,
    responses_visible,
    sessions_visible,
    sites_visible,
)
from sites.clock import date_words
from sites.models import Programme, RequestSite, ResponseKind, Site, User
from sites.selectors.backlog import AGES, DUES, WAITING, age_is, due_is
from sites.selectors.demand import UNPLACED, nearest_site
from sites.selectors.ranking import ORDERS
from sites.selectors.returned import BY_KEY, STEPS, requests_returned
from sites.selectors.slack import requests_slack, with_slack
from sites.selectors.standing import OPEN, Standing
from sites.selectors.yields import first_answers, instants
from sites.step import Step

GROUPS = [
    ("waiting", "open, each need once"),
    ("open", "open, with returned ones"),
    ("unplaced", "open, without a place"),
    ("all", "all, also closed"),
]


NEEDS = [
    ("access", "an accessible station", Q(subject__needs_access=True)),
    ("longer", "a longer session", Q(subject__needs_longer=True)),
]
"""What somebody can need. Shown, and asked for, by who serves people and by nobody else."""
PEOPLE = 50
"""So many people's requests at most are shown at once."""


class Filters(forms.Form):
    """What the list shows. Unknown words are refused beside their field; dates are included."""

    q = forms.CharField(label="Request", required=False, max_length=64)
    standing = forms.ChoiceField(label="Stands at", required=False)
    site = forms.ChoiceField(label="Could go to", required=False)
    programme = forms.ChoiceField(label="Programme", required=False)
    due = forms.ChoiceField(label="Due", required=False)
    age = forms.ChoiceField(label="Age (working days)", required=False)
    returned = forms.ChoiceField(label="Returned, step", required=False)
    rework = forms.ChoiceField(
        label="Rework", required=False, choices=[("", "any"), ("yes", "only"), ("no", "without")]
    )
    person = forms.RegexField(
        rf"\A\d{{1,12}}(,\d{{1,12}}){{0,{PEOPLE - 1}}}\Z",
        required=False,
        widget=forms.HiddenInput,
        error_messages={"invalid": "find the person again"},
    )
    needs = forms.ChoiceField(label="Needs", required=False)
    nearest = forms.ChoiceField(required=False, widget=forms.HiddenInput)
    received_from = forms.DateField(required=False, widget=forms.HiddenInput)
    received_to = forms.DateField(required=False, widget=forms.HiddenInput)
    due_from = forms.DateField(required=False, widget=forms.HiddenInput)
    due_to = forms.DateField(required=False, widget=forms.HiddenInput)
    session_from = forms.DateField(required=False, widget=forms.HiddenInput)
    session_to = forms.DateField(required=False, widget=forms.HiddenInput)
    answered_from = forms.DateField(required=False, widget=forms.HiddenInput)
    answered_to = forms.DateField(required=False, widget=forms.HiddenInput)
    back_from = forms.DateField(required=False, widget=forms.HiddenInput)
    back_to = forms.DateField(required=False, widget=forms.HiddenInput)
    image_from = forms.DateField(required=False, widget=forms.HiddenInput)
    image_to = forms.DateField(required=False, widget=forms.HiddenInput)
    missed_from = forms.DateField(required=False, widget=forms.HiddenInput)
    missed_to = forms.DateField(required=False, widget=forms.HiddenInput)
    sort = forms.ChoiceField(
        required=False,
        widget=forms.HiddenInput,
        choices=[(sign + key, key) for key in ORDERS for sign in ("", "-")],
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.user = user
        self.choose("standing", GROUPS + [(str(key), str(word)) for key, word in Standing.choices])
        sites = list(sites_visible(user).values_list("code", "name"))
        self.choose("site", sites, "any site")
        self.choose("nearest", sites, "any site")
        programmes = list(Programme.objects.values_list("code", "name"))
        self.choose("programme", programmes, "any programme")
        self.choose("due", [(band.key, band.words) for band in DUES], "any day")
        self.choose("age", [(band.key, band.words) for band in AGES], "any age")
        if needs_shown(user):
            self.choose("needs", [(key, words) for key, words, _ in NEEDS], "any")
        else:
            self.fields["needs"].widget = forms.HiddenInput()
        self.choose("returned", [(step.key, step.words) for step in STEPS], "any")

    def choose(self, name: str, choices: list[tuple[str, str]], empty: str = "") -> None:
        """Set the choices of a field, with a word for no choice."""
        field = cast(forms.ChoiceField, self.fields[name])
        field.choices = [("", empty), *choices] if empty else choices

    def value(self, name: str) -> Any:
        """A cleaned value; None where it was refused or not given."""
        return self.cleaned_data.get(name) or None

    def rows(self, today: date) -> QuerySet[Any]:
        """Requests by every filter but where they stand (for the strip of counts)."""
        seen = requests_visible(self.user)
        many = not (self.value("q") or self.value("person"))
        if self.value("returned") or self.value("back_from") or self.value("back_to"):
            rows = with_slack(requests_returned(today=today, requests=seen, many=many), today)
        else:
            rows = requests_slack(today=today, requests=seen, many=many)
        if near := self.value("nearest"):
            found = Site.objects.filter(code=near).values("pk")
            rows = rows.annotate(near=nearest_site()).filter(near__in=found)
        return rows.filter(self.condition(today))

    def condition(self, today: date) -> Q:
        """All filters but ``standing`` as one condition."""
        found = Q()
        if words := self.value("q"):
            found &= Q(reference__istartswith=words)
        if people := self.people():
            found &= Q(subject__in=people)
        for key, _, where in NEEDS:
            found &= where if key == self.value("needs") else Q()
        if site := self.value("site"):
            there = RequestSite.objects.filter(request=OuterRef("pk"), site__code=site)
            found &= Q(Exists(there))
        if programme := self.value("programme"):
            found &= Q(terms__programme__code=programme)
        for band in DUES:
            found &= due_is(band, today) if band.key == self.value("due") else Q()
        for band in AGES:
            found &= age_is(band, today) if band.key == self.value("age") else Q()
        if step := BY_KEY.get(self.value("returned") or ""):
            found &= step.where
        if rework := self.value("rework"):
            found &= Q(rework=rework == "yes")
        for name in ("received", "due"):
            first, last = self.span(name)
            found &= Q(**{f"{name}__gte": first}) if first else Q()
            found &= Q(**{f"{name}__lte": last}) if last else Q()
        return found & self.happened()

    def people(self) -> list[int]:
        """The row numbers of the people whose requests are shown; none: everybody's."""
        return [int(key) for key in (self.value("person") or "").split(",") if key]

    def happened(self) -> Q:
        """Conditions on when a session ended, a first answer came, or a set came back."""
        found = Q()
        if any(span := self.span("session")):
            starts, ends = instants(span[0] or date.min, span[1] or latest())
            sessions = sessions_visible(self.user).filter(
                appointment__request=OuterRef("pk"), ended_at__gte=starts, ended_at__lt=ends
            )
            found &= Q(Exists(sessions))
        if any(span := self.span("answered")):
            answers = first_answers(
                responses_visible(self.user), span[0] or date.min, span[1] or latest()
            )
            found &= Q(Exists(answers.filter(submission__request=OuterRef("pk"))))
        if any(span := self.span("image")):
            starts, ends = instants(span[0] or date.min, span[1] or latest())
            back = responses_visible(self.user).filter(
                submission__request=OuterRef("pk"),
                kind=ResponseKind.IMAGE,
                received_at__gte=starts,
                received_at__lt=ends,
            )
            found &= Q(Exists(back))
        if any(span := self.span("missed")):
            missed = appointments_visible(self.user).filter(
                request=OuterRef("pk"),
                step=Step.NO_SHOW,
                day__gte=span[0] or date.min,
                day__lte=span[1] or latest(),
            )
            found &= Q(Exists(missed))
        if any(span := self.span("back")):
            starts, ends = instants(span[0] or date.min, span[1] or latest())
            found &= Q(came_back__gte=starts, came_back__lt=ends)
        return found

    def span(self, name: str) -> tuple[date | None, date | None]:
        """First and last day of a pair of fields."""
        return self.value(f"{name}_from"), self.value(f"{name}_to")

    def stands(self) -> list[str]:
        """The standings that the list shows; the backlog unless said otherwise."""
        chosen = self.value("standing") or ("all" if self.past() else "waiting")
        groups: dict[str, list[Standing]] = {
            "open": list(OPEN),
            "waiting": list(WAITING),
            "unplaced": list(UNPLACED),
            "all": list(Standing),
        }
        return [str(each) for each in groups[chosen]] if chosen in groups else [chosen]

    def past(self) -> bool:
        """Whether the filters ask for what happened, which closed requests are part of."""
        names = (
            "session_from",
            "session_to",
            "answered_from",
            "answered_to",
            "missed_from",
            "image_from",
        )
        return any(self.value(name) for name in names)

    def hidden_words(self) -> list[tuple[str, str]]:
        """What the dates in the URL filter by, as (words, names of the fields)."""
        labels = {
            "received": "were received",
            "due": "are due",
            "session": "had a session that ended",
            "answered": "had their first answer",
            "back": "came back",
            "image": "came back for image quality",
            "missed": "had nobody come to an appointment",
        }
        found = []
        if people := self.people():
            who = f"one of the {len(people)} people" if len(people) > 1 else "the person"
            found.append((f"belong to {who} you asked for", "person"))
        if near := self.value("nearest"):
            found.append((f"have {near} as their nearest site", "nearest"))
        for name, words in labels.items():
            first, last = self.span(name)
            if first or last:
                since = f" from {date_words(first)}" if first else ""
                until = f" to {date_words(last)}" if last else ""
                found.append((f"{words}{since}{until}", name))
        return found


def latest() -> date:
    """A day that has a day after it, beyond every record."""
    return date.max - timedelta(days=2)
