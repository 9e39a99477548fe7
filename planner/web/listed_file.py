"""What the filters of the list show, as CSV: every row, in the list's order, without names."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.views import View

from planner.web.access import Asks
from planner.web.listed import Listed, listed
from planner.web.now import today
from sites.clock import minute_words
from sites.intake.out import CSV_TYPE, csv_lines
from sites.models import Request
from sites.selectors.parts import AT_ONCE
from sites.selectors.slack import booked_at, requests_slack

HEADS = (
    "reference",
    "rework",
    "stands_at",
    "slack_days",
    "chance_of_missing",
    "due",
    "received",
    "release",
    "appointment",
    "told_time",
    "site",
    "time_zone",
    "programme",
)


class ListedFile(Asks, View):
    """The list as a file: references, days and places; who somebody is stays in the record."""

    rule = "requests.see"

    def get(self, request: HttpRequest) -> HttpResponseBase:
        """Send it row by row; an address with a refused filter is not answered with more rows."""
        day = today()
        shown = listed(request.GET, user=self.user, today=day)
        if shown.filters.errors:
            name, errors = next(iter(shown.filters.errors.items()))
            words = f"The file was not made: the filter {name} is refused. {errors[0]}\n"
            return HttpResponse(words, status=422, content_type="text/plain; charset=utf-8")
        answer = StreamingHttpResponse(csv_lines(lines_of(shown, day)), content_type=CSV_TYPE)
        answer["Content-Disposition"] = f'attachment; filename="requests-{day.isoformat()}.csv"'
        answer["Cache-Control"] = "private, no-store"
        return answer


def lines_of(shown: Listed, day: date) -> Iterator[list[str | int | float]]:
    """The lines, read in parts of `AT_ONCE` requests: two queries each."""
    yield list(HEADS)
    for start in range(0, len(shown.ranking.keys), AT_ONCE):
        keys = shown.ranking.page(start, AT_ONCE)
        chances = dict(zip(keys, shown.ranking.chance_of(start, AT_ONCE), strict=True))
        rows = requests_slack(today=day, requests=Request.objects.filter(pk__in=keys))
        by_key = rows.select_related("terms__programme").in_bulk(keys)
        found = [by_key[key] for key in keys if key in by_key]
        places = booked_at(found)
        for row in found:
            yield line_of(row, chances[row.pk], places.get(row.pk))


def line_of(row: Any, chance: float | None, place: Any) -> list[str | int | float]:
    """A request as cells; empty ones where there is no appointment, or no chance to tell."""
    booked: list[str | int | float] = ["", "", "", ""]
    if place is not None:
        site = place.station.site
        booked = [place.day.isoformat(), minute_words(place.told_minute), site.code, site.timezone]
    return [
        row.reference,
        "yes" if row.rework else "no",
        row.standing,
        row.slack.days,
        "" if chance is None else round(chance, 4),
        row.due.isoformat(),
        row.received.isoformat(),
        row.release.isoformat(),
        *booked,
        row.terms.programme.code,
    ]
