"""Capacity: are we keeping up, and where the next weeks fall short."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from planner.gateway.outlook import HISTORY_DAYS, RETURN_WEEKS, WEEKS, outlook
from planner.web.access import Page
from planner.web.days import covered, run_of, use_rows
from planner.web.now import today
from sites.access import (
    appointments_visible,
    requests_visible,
    responses_visible,
    sessions_visible,
)
from sites.clock import date_words
from sites.models import User
from sites.selectors import yields
from sites.selectors.backlog import AGES, DUES, backlog, intake
from sites.selectors.returned import AGES as RETURN_AGES
from sites.selectors.returned import STEPS, returned_by_step
from sites.selectors.shares import Share, share
from sites.selectors.workdays import days_ago, working_days

PERIODS = (30, 90, 180)
USED = 14


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with everything that a reader needs to trust it.

    ``value`` is ready to read; ``share`` holds hits, n and the interval where it is a share;
    ``query`` opens the requests behind it.
    """

    name: str
    value: str
    meaning: str
    period: str
    n: int
    query: dict[str, Any]
    share: Share | None = None


class CapacityPage(Page):
    """Are we keeping up: backlog, returns, rework, yield and use, each with what is behind it."""

    rule = "capacity.see"
    template_name = "web/capacity.html"
    place = "capacity"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Every figure of the page."""
        day = today()
        chosen = self.request.GET.get("days", "")
        period = int(chosen) if chosen in {str(each) for each in PERIODS} else PERIODS[1]
        first, last = day - timedelta(days=period), day - timedelta(days=1)
        counts = backlog(today=day, requests=requests_visible(self.user))
        sites = covered(self)
        by_site = yields.first_pass_yield_by_site(
            first=first, last=last, responses=responses_visible(self.user)
        )
        return super().get_context_data(
            today=day,
            first=first,
            last=last,
            period=period,
            periods=PERIODS,
            figures=figures(self.user, day, first, last, sum(counts.values())),
            backlog=[
                Aged(band, [counts.get((band.key, due.key), 0) for due in DUES]) for band in AGES
            ],
            dues=[(due, sum(counts.get((band.key, due.key), 0) for band in AGES)) for due in DUES],
            backlog_total=sum(counts.values()),
            returned=returned_lines(self.user, day),
            return_ages=[key for key, _, _ in RETURN_AGES],
            yields=[(site, by_site.get(site.code, share(0, 0))) for site in sites],
            rows=use_rows(self.user, sites, day, USED),
            days=run_of(day, USED),
            **kwargs,
        )


@dataclass(frozen=True, slots=True)
class Aged:
    """An age band's counts by due band (`DUES`)."""

    band: Any
    counts: list[int]

    @property
    def cells(self) -> list[tuple[str, int]]:
        """(due band, count)."""
        return [(due.key, count) for due, count in zip(DUES, self.counts, strict=True)]

    @property
    def total(self) -> int:
        """Of all due bands."""
        return sum(self.counts)


@dataclass(frozen=True, slots=True)
class Returned:
    """A step's counts; ``cells`` are (count, first day, last day) of when they came back."""

    step: Any
    cells: list[tuple[int, date | None, date]]

    @property
    def total(self) -> int:
        """Of all ages."""
        return sum(count for count, _, _ in self.cells)


def returned_lines(user: User, day: date) -> list[Returned]:
    """Steps with counts by age, and the days that each age stands for."""
    found: dict[str, Counter[str]] = returned_by_step(today=day, requests=requests_visible(user))
    spans = {
        key: (
            None if last > 10**5 else days_ago(day, last + 1) + timedelta(days=1),
            days_ago(day, first) if first else day,
        )
        for key, first, last in RETURN_AGES
    }
    return [
        Returned(step, [(found[step.key][key], *spans[key]) for key in spans]) for step in STEPS
    ]


def figures(user: User, day: date, first: date, last: date, open_now: int) -> list[Figure]:
    """The six figures at the top, of the sites in view."""
    span: dict[str, Any] = {"first": first, "last": last}
    received = intake(**span, requests=requests_visible(user))
    workdays = working_days(first, last + timedelta(days=1)) or 1
    rate = received / workdays
    cycle = f"{open_now / rate:.1f} working days" if rate else "–"
    period = f"{date_words(first)} to {date_words(last)}"
    sessions = {"session_from": first, "session_to": last}
    answers = {"answered_from": first, "answered_to": last}
    responses = responses_visible(user)
    passed = yields.first_pass_yield(**span, responses=responses)
    again = yields.rework_share(**span, sessions=sessions_visible(user))
    back = yields.image_returns(**span, responses=responses)
    missed = yields.no_show_share(**span, appointments=appointments_visible(user))
    return [
        Figure(
            "Backlog",
            f"{open_now}",
            "Open requests without an accepted set; a returned one counts once, by its rework.",
            f"now, {date_words(day)}",
            open_now,
            {"standing": "waiting"},
        ),
        Figure(
            "Cycle time",
            cycle,
            "Backlog divided by new needs a working day: how long the queue is at this intake.",
            period,
            received,
            {"standing": "all", "received_from": first, "received_to": last, "rework": "no"},
        ),
        Figure(
            "First-pass yield",
            percent(passed),
            "Share of answered first submissions that were accepted.",
            period,
            passed.n,
            answers,
            passed,
        ),
        Figure(
            "Rework share",
            percent(again),
            "Share of ended sessions that an image return had caused.",
            period,
            again.n,
            {**sessions, "rework": "yes"},
            again,
        ),
        Figure(
            "Image returns",
            percent(back),
            "Share of answered sets, first or later, that came back for image quality.",
            period,
            back.n,
            {"standing": "all", "image_from": first, "image_to": last},
            back,
        ),
        Figure(
            "No-shows",
            percent(missed),
            "Share of appointments, held or missed, to which nobody came.",
            period,
            missed.n,
            {"standing": "all", "missed_from": first, "missed_to": last},
            missed,
        ),
    ]


def percent(value: Share) -> str:
    """A share as its figure."""
    return "–" if value.value is None else f"{100 * value.value:.1f} %"


class OutlookPage(Page):
    """The next weeks: room by site against what falls due."""

    rule = "capacity.see"
    template_name = "web/outlook.html"
    place = "capacity"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The outlook of the sites in view."""
        day = today()
        found = outlook(
            sites=covered(self),
            today=day,
            requests=requests_visible(self.user),
            responses=responses_visible(self.user),
        )
        return super().get_context_data(
            outlook=found,
            today=day,
            weeks=[day + timedelta(weeks=number) for number in range(WEEKS)],
            short=[line for line in found.lines if line.short],
            history=HISTORY_DAYS,
            lag=RETURN_WEEKS,
            **kwargs,
        )
