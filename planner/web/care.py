"""Care: what is due by rule, what is planned, and forms that say first whom they would move."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from planner.web.access import Page
from planner.web.care_forms import CareForm, DowntimeForm, WindowForm
from planner.web.now import today, today_at
from sites.access import may
from sites.errors import RecordError
from sites.models import Site, Station
from sites.selectors.care import CareDue, care_due
from sites.selectors.planned import care_planned, downtimes_from

AHEAD = 56


@dataclass(frozen=True, slots=True)
class Due:
    """A piece of care that is due, with a word for how pressing it is."""

    care: CareDue
    today: date

    @property
    def word(self) -> str:
        """*late* once grace is over, *due* from its day on, else the days that are left."""
        if self.care.late < self.today:
            return "late"
        if self.care.due <= self.today:
            return "due"
        left = (self.care.due - self.today).days
        return f"in {left} day" if left == 1 else f"in {left} days"


@dataclass(frozen=True, slots=True)
class SiteCare:
    """A site with how many pieces of care are late, due, or due within a week."""

    site: Site
    late: int
    due: int
    soon: int


class CarePage(Page):
    """Which sites have scanner care due."""

    rule = "care.see"
    template_name = "web/care.html"
    place = "care"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """A line a site, counted on its own day; the same few queries for any number of sites."""
        lines = []
        sites = self.sites()
        all_due = care_due(stations=list(Station.objects.filter(site__in=sites)), today=today())
        for site in sites:
            day = today_at(site)
            found = [each for each in all_due if each.station.site_id == site.pk]
            late = sum(each.late < day for each in found)
            due = sum(each.due <= day for each in found) - late
            soon = sum(day < each.due <= day + timedelta(days=7) for each in found)
            lines.append(SiteCare(site, late, due, soon))
        return super().get_context_data(lines=lines, **kwargs)


class SiteCarePage(Page):
    """One site's care: due by rule, planned, and times in which a station is down."""

    rule = "care.see"
    template_name = "web/care_site.html"
    place = "care"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """What is due and what is planned."""
        site = self.site(kwargs["site"])
        day = today_at(site)
        stations = list(site.stations.filter(in_use=True))
        due = care_due(stations=stations, today=day)
        return super().get_context_data(
            where=site,
            today=day,
            ahead=AHEAD,
            due=[Due(each, day) for each in due],
            planned=care_planned(site=site, first=day, last=day + timedelta(days=AHEAD)),
            downs=downtimes_from(site=site, first=day),
            may_write=may(self.user, "care.change", site),
            others=[each for each in self.sites() if each.pk != site.pk],
            **kwargs,
        )


class FormPage(Page):
    """A form that closes a time: the first answer says whom it would move, the second saves."""

    rule = "care.change"
    template_name = "web/care_form.html"
    fragment = "web/care_form_body.html"
    place = "care"
    form: type[WindowForm]
    title = ""
    done: Callable[[Any], str]

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The empty form, or the one that was sent."""
        site = self.site(self.kwargs["site"])
        day = today_at(site)
        kwargs.setdefault("form", self.form(site=site, initial=self.initial(day)))
        return super().get_context_data(
            where=site, title=self.title, today=day, action=self.request.path, **kwargs
        )

    def initial(self, day: date) -> dict[str, Any]:
        """What the URL proposes: a station, a kind, a day."""
        names = ("station", "kind", "day", "minutes")
        asked = {name: self.request.GET[name] for name in names if name in self.request.GET}
        return {"day": day.isoformat(), **asked}

    def post(self, request: HttpRequest, *_: Any, **__: Any) -> HttpResponse:
        """Say whom it would move; save once that has been seen."""
        site = self.site(self.kwargs["site"])
        form = self.form(request.POST, site=site)
        context: dict[str, Any] = {"form": form}
        if form.is_valid():
            try:
                context["moves"] = form.moves()
                seen = request.POST.get("seen") == form.seen()
                if request.POST.get("save") and seen:
                    messages.success(request, form.save(request.user))
                    there = redirect("care-site", site.code)
                    if getattr(request, "htmx", False):
                        return HttpResponse(headers={"HX-Redirect": there.url})
                    return there
                context["changed"] = bool(request.POST.get("save")) and not seen
                context["looked"] = True
            except RecordError as error:
                form.add_error(None, f"{error.value} {error.problem}: {error.remedy}.")
        page = self.get_context_data(**self.kwargs, **context)
        return self.render_to_response(page)  # type: ignore[no-any-return]


class CareFormPage(FormPage):
    """Set scanner care at a time of one's choice."""

    form = CareForm
    title = "Set a care window"


class DowntimeFormPage(FormPage):
    """Take a station out of use for a time."""

    form = DowntimeForm
    title = "Take a station out of use"
