"""The requests list, and one request's page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from planner.web.access import Page
from planner.web.chosen import MOST, acts_of
from planner.web.listed import listed
from planner.web.now import today
from sites.access import requests_visible
from sites.models import Appointment, Request
from sites.selectors.slack import booked_at, requests_slack
from sites.selectors.standing import Standing

PAGE = 50

NEXT = {
    Standing.TO_BOOK: "Find a time: book it, or let the next plan do so.",
    Standing.ON_HOLD: "Nothing while it is on hold; release it when it can be booked.",
    Standing.DISPLACED: "It lost its place: find another time and tell the person.",
    Standing.BOOKED: "Nothing until the appointment.",
    Standing.ARRIVED: "Start the session.",
    Standing.UNDERWAY: "The session is under way.",
    Standing.CAPTURED: "Send the set on, within one business day of the capture.",
    Standing.SENT: "Wait for the response.",
    Standing.RETURNED_UNREAD: "Read the response today.",
    Standing.RETURNED_IMAGE: "Contact the subject, then ask for rework.",
    Standing.RETURNED_DATA: "Correct the data at the desk and send again; nobody has to come.",
    Standing.RETURNED_TRANSMISSION: "Send the set again; nobody has to come.",
    Standing.REWORK: "Follow the rework request below.",
    Standing.EXCEPTION: "Wait for the answer to the check by name; nobody has to come.",
    Standing.EXPIRED: "Ask the programme whether the need still stands.",
    Standing.ACCEPTED: "Nothing: the set was accepted.",
    Standing.CLOSED: "Nothing: the need ended without a set.",
}


STRIP = (
    Standing.TO_BOOK,
    Standing.DISPLACED,
    Standing.ON_HOLD,
    Standing.EXPIRED,
    Standing.BOOKED,
    Standing.ARRIVED,
    Standing.UNDERWAY,
    Standing.CAPTURED,
    Standing.SENT,
    Standing.RETURNED_UNREAD,
    Standing.RETURNED_IMAGE,
    Standing.RETURNED_DATA,
    Standing.RETURNED_TRANSMISSION,
    Standing.REWORK,
    Standing.EXCEPTION,
    Standing.ACCEPTED,
    Standing.CLOSED,
)
"""The order of the strip of counts: along a request's way."""


VIEWS = (
    ("late", "due=past"),
    ("due within a week, without a place", "standing=unplaced&due=week-1"),
    ("on hold", "standing=on_hold"),
    ("returned, not read", "returned=unread"),
    ("returned, subject not contacted", "returned=to-contact"),
    ("captured, not sent on", "standing=captured&sort=received"),
)
"""Views that many ask for, as (words, query)."""


@dataclass(frozen=True, slots=True)
class Line:
    """A row of the list."""

    request: Any
    standing: Standing
    appointment: Appointment | None
    chance: float | None = None

    @property
    def late(self) -> str:
        """A word for the slack: never a colour alone."""
        days = self.request.slack.days
        if self.standing in {Standing.ACCEPTED, Standing.CLOSED, Standing.REWORK}:
            return ""
        return "late" if days < 0 else "at risk" if days < 3 else ""


@dataclass(frozen=True, slots=True)
class Chip:
    """A count of the strip."""

    standing: Standing
    count: int
    chosen: bool


class RequestsPage(Page):
    """Who may be late, and who is next."""

    rule = "requests.see"
    template_name = "web/requests.html"
    fragment = "web/requests_results.html"
    place = "requests"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The strip, one page of rows and where they are booked: a fixed number of queries."""
        day = today()
        shown = listed(self.request.GET, user=self.user, today=day)
        filters, ranking, sort = shown.filters, shown.ranking, shown.sort
        stands = filters.stands()
        total = len(ranking.keys)
        pages = max(1, -(-total // PAGE))
        number = min(max(1, whole(self.request.GET.get("page"))), pages)
        start = (number - 1) * PAGE
        keys = ranking.page(start, PAGE)
        chances = dict(zip(keys, ranking.chance_of(start, PAGE), strict=True))
        seen = requests_slack(today=day, requests=Request.objects.filter(pk__in=keys))
        by_key = seen.select_related("terms__programme").in_bulk(keys)
        found = [by_key[key] for key in keys if key in by_key]
        places = booked_at(found)
        return super().get_context_data(
            filters=filters,
            chips=[
                Chip(each, ranking.counts[each], [each] == stands)
                for each in STRIP
                if ranking.counts.get(each)
            ],
            lines=[
                Line(row, Standing(row.standing), places.get(row.pk), chances[row.pk])
                for row in found
            ],
            pace=shown.pace,
            acts=acts_of(self.user),
            views=VIEWS,
            most=MOST,
            shown=self.request.GET.urlencode(),
            total=total,
            first=start + 1,
            last=start + len(found),
            number=number,
            pages=pages,
            sort=sort,
            today=day,
            heads=heads(sort),
            any_request=bool(total) or requests_visible(self.user).exists(),
            **kwargs,
        )


@dataclass(frozen=True, slots=True)
class Head:
    """A column that can be sorted by: its next order, and how it is sorted now."""

    key: str
    words: str
    then: str
    sorted: str


def heads(sort: str) -> dict[str, Head]:
    """Heads by column."""
    words = {
        "reference": "request",
        "slack": "slack (days)",
        "chance": "chance of missing it",
        "due": "due",
        "received": "received",
    }
    found = {}
    for key, word in words.items():
        now = {key: "ascending", f"-{key}": "descending"}.get(sort, "")
        found[key] = Head(key, word, f"-{key}" if now == "ascending" else key, now)
    return found


def whole(text: str | None) -> int:
    """A page number, 1 where it is none."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 9 else 1
