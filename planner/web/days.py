"""Days: which days of which site are full, and one site's day board."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.http import Http404

from planner.gateway.daybook import day_from_record
from planner.web.access import Page
from planner.web.now import now, today, today_at
from sites.access import days_visible, sites_visible
from sites.models import Site, User
from sites.selectors.room import DayRoom, site_room, sites_with_hours

SHOWN = 14
SHADES = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """A site's day in the table; ``shade`` runs from 0 to `SHADES` with the share used.

    ``opens`` says whether its day is in the view of whoever looks.
    """

    day: date
    room: DayRoom
    shade: int
    opens: bool = True

    @property
    def closed(self) -> bool:
        """Nothing open and nothing booked."""
        return not self.room.stations and not self.room.sessions


@dataclass(frozen=True, slots=True)
class Row:
    """A site's days."""

    site: Site
    cells: list[Cell]


def use_rows(user: User, sites: list[Site], first: date, days: int) -> list[Row]:
    """Sites with their days, ready for the table of use."""
    rooms = site_room(sites=sites, first=first, days=days)
    mine = days_visible(user, sites=sites, first=first, last=first + timedelta(days=days - 1))

    def cell(site: Site, day: date) -> Cell:
        room = rooms[site.pk, day]
        shade = min(SHADES, round(SHADES * (room.used or 0)))
        return Cell(day, room, shade, opens=mine is None or (site.pk, day) in mine)

    return [Row(site, [cell(site, day) for day in run_of(first, days)]) for site in sites]


def run_of(first: date, days: int) -> list[date]:
    """Days in a row."""
    return [first + timedelta(days=offset) for offset in range(days)]


def covered(page: Page) -> list[Site]:
    """The sites of whoever looks, with what `site_room` needs."""
    return list(sites_with_hours().filter(pk__in=sites_visible(page.user).values("pk")))


def a_day(text: str | None, default: date) -> date:
    """A day written ``YYYY-MM-DD``. Raises Http404 for anything else."""
    if not text:
        return default
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise Http404(f"{text} is no date: write it as 2027-03-09.") from None
    if not 1990 <= found.year <= 2200:
        raise Http404(f"{text} is outside the years that a record can hold.")
    return found


class DaysPage(Page):
    """Where there is room, and where not: sites by days from a day on."""

    rule = "days.see"
    template_name = "web/days.html"
    place = "days"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Two weeks of every site that the person covers."""
        first = a_day(self.request.GET.get("from"), today())
        return super().get_context_data(
            rows=use_rows(self.user, covered(self), first, SHOWN),
            days=run_of(first, SHOWN),
            before=first - timedelta(days=SHOWN),
            after=first + timedelta(days=SHOWN),
            **kwargs,
        )


class DayPage(Page):
    """Who is where on one site's day, and will it run late."""

    rule = "days.see"
    template_name = "web/day.html"
    place = "days"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The board, drawn from the record, and who lost their place on this day."""
        site = self.site(kwargs["site"])
        day = a_day(kwargs["day"], today_at(site))
        mine = days_visible(self.user, sites=[site], first=day, last=day)
        if mine is not None and (site.pk, day) not in mine:
            raise Http404("That day is not one of yours: you see days with a shift of your own.")
        page, rows = day_from_record(site=site, day=day, now=now())
        return super().get_context_data(
            page=page,
            where=site,
            on=day,
            gone=[row for row in rows.appointments if row.step in GONE],
            before=day - timedelta(days=1),
            after=day + timedelta(days=1),
            others=[each for each in self.sites() if each.pk != site.pk],
            today=today_at(site),
            linked=True,
            **kwargs,
        )


GONE = ("displaced", "no_show", "cancelled")
