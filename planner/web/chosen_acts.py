"""What is to be done with many requests: asked with its effect, then done, then said.

Each page judges all requests of the set first and says how many it can be done with, and of each
other one why not. What changes between the question and the answer is skipped and named.
"""

from __future__ import annotations

from typing import Any, cast

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from planner.gateway.record.demand import TO_SERVE
from planner.web.access import Page
from planner.web.chosen import MOST, Chosen, keep, kept_set
from planner.web.now import now, today
from sites.access import requests_visible, sites_visible
from sites.models import Request, Site
from sites.selectors.chosen import (
    How,
    Verdict,
    judge_hold,
    judge_release,
    judge_sites,
    standings,
    stands_at,
)
from sites.services.holds import requests_hold, requests_release
from sites.services.outcome import Outcome
from sites.services.request_sites import requests_sites_change

SHOWN = 200
"""Requests that a page lists; all of them are counted."""
WHY = (
    ("papers are missing", "Papers are missing"),
    ("the person asked to wait", "The person asked to wait"),
    ("the programme asked to wait", "The programme asked to wait"),
    ("no site can serve it yet", "No site can serve it yet"),
)
"""Reasons that name no health, family or work of a person: they are kept and read by many."""


class HoldForm(forms.Form):
    """Why requests have to wait, and until when."""

    why = forms.ChoiceField(label="Why", choices=[("", "choose"), *WHY])
    more = forms.CharField(
        label="In other words",
        required=False,
        max_length=120,
        help_text="No names and nothing about health: it is kept with each request",
    )
    until = forms.DateField(
        label="Until before the day",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}),
        help_text="The first day on which they can have an appointment again; none: until released",
    )

    def clean_until(self) -> Any:
        """A day ahead."""
        day = self.cleaned_data["until"]
        if day is not None and day <= today():
            raise forms.ValidationError(f"{day} is not ahead: choose a later day, or none.")
        return day

    @property
    def words(self) -> str:
        """The reason as it is kept."""
        return "; ".join(filter(None, (self.cleaned_data["why"], self.cleaned_data["more"])))


class SitesForm(forms.Form):
    """Which sites, and what of them."""

    how = forms.ChoiceField(
        label="They can go",
        choices=[
            (str(How.ADD), "to these sites as well"),
            (str(How.ONLY), "to these sites alone"),
            (str(How.TAKE), "no longer to these sites"),
        ],
        initial=str(How.ADD),
        widget=forms.RadioSelect,
    )
    sites = forms.ModelMultipleChoiceField(
        queryset=Site.objects.none(),
        to_field_name="code",
        widget=forms.CheckboxSelectMultiple,
        label="Sites",
        error_messages={"required": "Tick at least one site."},
    )

    def __init__(self, data: Any, rows: Any) -> None:
        super().__init__(data)
        cast("forms.ModelMultipleChoiceField[Any]", self.fields["sites"]).queryset = rows


class OfChosen(Page):
    """A page about a set: the question, and once it was answered what came of it."""

    template_name = "web/chosen.html"
    place = "requests"
    title = does = effect = can = ""
    form: type[forms.Form] | None = None
    one: Chosen
    rows: list[Request]

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """The question, or its outcome; back to the list where the set is forgotten."""
        return self.found(kwargs["code"]) or self.answer()

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """Do it, once; a question that shows something else by now is asked again."""
        if gone := self.found(kwargs["code"]):
            return gone
        if self.one.done is not None:
            return redirect(request.path)
        if request.POST.get("seen") != self.one.digest or not self.one.seen:
            return self.answer(form=self.make_form(request.POST), stale=True, status=409)
        form = self.make_form(request.POST)
        if form is not None and not form.is_valid():
            return self.answer(form=form, status=422)
        verdicts = self.judged(form)
        outcome = self.act(form, self.one.seen_of(verdicts))
        self.one.done, self.one.seen, self.one.said = len(outcome.done), {}, self.can
        self.one.skipped = [(row.reference, why) for row, why in outcome.skipped]
        self.keep()
        return redirect(request.path)

    def found(self, code: str) -> HttpResponse | None:
        """Find the set and what is in view of it; where it is forgotten, the way to the list."""
        one = kept_set(self.request.session, code)
        if one is None:
            messages.warning(
                self.request, "These requests are no longer kept: tick them again in the list."
            )
            return redirect("requests")
        self.one = one
        seen = requests_visible(self.user).filter(pk__in=one.keys) if one.done is None else None
        by_key = {row.pk: row for row in seen} if seen is not None else {}
        self.rows = [by_key[key] for key in one.keys if key in by_key]
        return None

    def keep(self) -> None:
        """Keep the set as it is now."""
        keep(self.request.session, self.one)

    def make_form(self, data: Any) -> forms.Form | None:
        """The form, empty or as it was sent; None where there is nothing to fill in."""
        return self.form(data) if self.form else None

    def judged(self, form: forms.Form | None) -> dict[int, Verdict]:
        """Of each request whether it can be done."""
        raise NotImplementedError

    def act(self, form: Any, seen: dict[int, str]) -> Outcome:
        """Do it with what can be and still is what was seen."""
        raise NotImplementedError

    def answer(
        self, *, form: forms.Form | None = None, stale: bool = False, status: int = 200
    ) -> HttpResponse:
        """The page."""
        context: dict[str, Any] = {"one": self.one, "stale": stale, "most": MOST}
        if self.one.done is None:
            form = form or self.make_form(None)
            context |= self.question(form) | {"form": form}
        else:
            skipped = self.one.skipped
            context |= {"skipped": skipped[:SHOWN], "left": len(skipped)}
        page = self.get_context_data(
            **context, title=self.title, does=self.does, effect=self.effect, can=self.can
        )
        return self.render_to_response(page, status=status)  # type: ignore[no-any-return]

    def question(self, form: forms.Form | None) -> dict[str, Any]:
        """How many it can be done with, and why not with the others; noted in the session."""
        verdicts = self.judged(form)
        digest = self.one.look(verdicts)
        self.keep()
        will = [row for row in self.rows if not verdicts[row.pk].why]
        skipped = [
            (row.reference, verdicts[row.pk].why) for row in self.rows if verdicts[row.pk].why
        ]
        return {
            "seen": digest,
            "ready": True,
            "will": will[:SHOWN],
            "count": len(will),
            "skipped": skipped[:SHOWN],
            "left": len(skipped),
            "gone": len(self.one.keys) - len(self.rows),
        }


class HoldChosen(OfChosen):
    """Put on hold what waits for a time."""

    rule = "requests.change"
    title, does, can = "Put requests on hold", "Put on hold", "put on hold"
    effect = "Neither people nor plans book them until they are released. Nobody is told by this."
    form = HoldForm

    def judged(self, form: forms.Form | None) -> dict[int, Verdict]:
        """What waits for a time."""
        return judge_hold(requests=self.rows, today=today())

    def act(self, form: Any, seen: dict[int, str]) -> Outcome:
        """Hold."""
        return requests_hold(
            requests=self.rows,
            why=form.words,
            until=form.cleaned_data["until"],
            by=self.user,
            at=now(),
            seen=seen,
        )


class ReleaseChosen(OfChosen):
    """End holds."""

    rule = "requests.change"
    title, does, can = "Release requests", "Release", "released"
    effect = "They can be booked again, by people and by plans."

    def judged(self, form: forms.Form | None) -> dict[int, Verdict]:
        """What is on hold."""
        return judge_release(requests=self.rows, today=today())

    def act(self, form: Any, seen: dict[int, str]) -> Outcome:
        """Release."""
        return requests_release(requests=self.rows, by=self.user, at=now(), seen=seen)


class SitesChosen(OfChosen):
    """Change the sites that requests can go to: the change is shown before it can be made."""

    rule = "requests.change"
    title, does, can = "Change the sites of requests", "Change the sites", "changed"
    effect = (
        "Plans and offers look for times at the sites that a request can go to. Whoever is booked "
        "keeps their place; sites outside your view stay as they are."
    )

    def make_form(self, data: Any) -> SitesForm:
        """As it was sent, or as the address asks to look at."""
        asked = self.request.GET if self.request.GET.get("how") else None
        return SitesForm(data if data is not None else asked, sites_visible(self.user))

    def question(self, form: forms.Form | None) -> dict[str, Any]:
        """Nothing is judged before sites are chosen."""
        if form is None or not form.is_bound or not form.is_valid():
            return {"ready": False, "gone": len(self.one.keys) - len(self.rows)}
        return super().question(form)

    def judged(self, form: Any) -> dict[int, Verdict]:
        """What can go there."""
        values = form.cleaned_data
        found = judge_sites(
            requests=self.rows,
            today=today(),
            how=How(values["how"]),
            sites=list(values["sites"]),
            within=self.sites(),
        )
        return {key: verdict for key, (verdict, _) in found.items()}

    def act(self, form: Any, seen: dict[int, str]) -> Outcome:
        """Change them."""
        values = form.cleaned_data
        return requests_sites_change(
            requests=self.rows,
            how=How(values["how"]),
            sites=list(values["sites"]),
            within=self.sites(),
            today=today(),
            seen=seen,
        )


class PlanChosen(OfChosen):
    """To the form of a planning run, with those that still need a session."""

    rule = "runs.start"
    title, does, can = "Plan requests", "To the form of the run", "planned"
    effect = "The next page asks for days and sites. Nothing is booked before a plan is accepted."

    def judged(self, form: forms.Form | None) -> dict[int, Verdict]:
        """What needs a session and is not on hold."""
        return {
            key: Verdict(stand, "" if stand in TO_SERVE else stands_at(stand))
            for key, stand in standings(self.rows, today()).items()
        }

    def post(self, request: HttpRequest, **kwargs: Any) -> HttpResponse:
        """There is nothing to write: the run's form takes the set by its code."""
        return redirect(request.path)


def to_plan(session: Any, code: str, user: Any) -> list[str]:
    """References of a set that a run can plan, of what somebody may see; none where forgotten."""
    one = kept_set(session, code)
    rows = list(requests_visible(user).filter(pk__in=one.keys)) if one else []
    stands = standings(rows, today())
    return [row.reference for row in rows if stands[row.pk] in TO_SERVE]
