"""A site's day, the figures of a period and the outlook of the next weeks."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

from django.http import Http404

from planner.api.find import one
from planner.api.operation import Read
from planner.api.operations.appointments import appointments
from planner.api.operations.care import windows
from planner.api.shapes import figures as shapes
from planner.api.shapes.fields import day_of
from planner.gateway.outlook import outlook
from planner.gateway.present import today
from sites.access import (
    appointments_visible,
    days_visible,
    requests_visible,
    responses_visible,
    sessions_visible,
    sites_visible,
)
from sites.models import Break, Shift, User
from sites.selectors import yields
from sites.selectors.backlog import backlog, intake
from sites.selectors.day import site_day_rows
from sites.selectors.room import sites_with_hours
from sites.selectors.shares import Share
from sites.selectors.workdays import working_days


class DayRead(Read):
    """A site's day: who is where, and when nobody can be.

    A plan, not a decision about a person. Never print over fresh cuts, blisters or bandages.
    """

    rule, tag, gives = "days.see", "days", shapes.DayShape

    def find(self, user: User, **path: Any) -> Any:
        """The rows of the day that this person may see."""
        site = one(sites_visible(user), "site", code=path["site"])
        day = day_of(path["day"])
        if day is None:
            raise Http404(f"{path['day']} is no date: write it as 2027-03-09.")
        mine = days_visible(user, sites=[site], first=day, last=day)
        if mine is not None and (site.pk, day) not in mine:
            raise Http404("You have no shift and no booking there on that day.")
        rows = site_day_rows(site=site, day=day)
        names = {station.pk: station.code for station in rows.stations}
        return {
            "site": site.code,
            "day": day,
            "timezone": site.timezone,
            "open": [{"starts": start, "ends": end} for start, end in rows.windows],
            "closed": [
                {"station": names[pk], "starts": start, "ends": end, "why": why}
                for pk, times in sorted(rows.closed.items())
                for start, end, why in times
                if pk in names
            ],
            "shifts": times_of(rows.shifts),
            "breaks": times_of(rows.breaks),
            "appointments": list(
                appointments(user).filter(station__site=site, day=day).order_by("starts_at", "code")
            ),
            "care": list(
                windows(user).filter(station__site=site, day=day).order_by("minute", "code")
            ),
        }


def times_of(rows: Iterable[Shift | Break]) -> list[dict[str, Any]]:
    """Whose time it is, from when to when."""
    return [
        {
            "technician": row.technician.code,
            "starts": row.minute,
            "ends": min(row.minute + row.minutes, 24 * 60),
        }
        for row in rows
    ]


class FiguresRead(Read):
    """Whether the work keeps up: backlog, yield, rework, returns, no-shows.

    Figures of the sites in your view, about work and never about a person.
    """

    rule, tag, gives, query = "capacity.see", "capacity", shapes.FiguresShape, shapes.PeriodQuery
    rate = "heavy"

    def find(self, user: User, **path: Any) -> Any:
        """The figures of the days before today."""
        day = today()
        first, last = day - timedelta(days=self.asked()["days"]), day - timedelta(days=1)
        span = {"first": first, "last": last}
        requests, responses = requests_visible(user), responses_visible(user)
        waiting = sum(backlog(today=day, requests=requests).values())
        received = intake(first=first, last=last, requests=requests)
        rate = received / (working_days(first, day) or 1)
        cycle = waiting / rate if rate else None
        return {
            **span,
            "figures": [
                plain("backlog", "Open requests without an accepted set, now", waiting, waiting),
                plain(
                    "cycle_time",
                    "Backlog over intake a working day, in working days",
                    cycle,
                    received,
                ),
                shared(
                    "first_pass_yield",
                    "Share of answered first submissions that were accepted",
                    yields.first_pass_yield(first=first, last=last, responses=responses),
                ),
                shared(
                    "rework_share",
                    "Share of ended sessions that an image return had caused",
                    yields.rework_share(first=first, last=last, sessions=sessions_visible(user)),
                ),
                shared(
                    "image_returns",
                    "Share of answered sets that came back for image quality",
                    yields.image_returns(first=first, last=last, responses=responses),
                ),
                shared(
                    "no_shows",
                    "Share of appointments, held or missed, to which nobody came",
                    yields.no_show_share(
                        first=first, last=last, appointments=appointments_visible(user)
                    ),
                ),
            ],
        }


def plain(key: str, meaning: str, value: float | None, n: int) -> dict[str, Any]:
    """A number."""
    return {
        "key": key,
        "meaning": meaning,
        "value": value,
        "hits": None,
        "n": n,
        "low": None,
        "high": None,
    }


def shared(key: str, meaning: str, share: Share) -> dict[str, Any]:
    """A share with its interval."""
    return {
        "key": key,
        "meaning": meaning,
        "value": share.value,
        "hits": share.hits,
        "n": share.n,
        "low": share.low,
        "high": share.high,
    }


class OutlookRead(Read):
    """The next weeks: room by site and week against what falls due, with expected rework.

    An estimate, not a promise.
    """

    rule, tag, gives, rate = "capacity.see", "capacity", shapes.OutlookShape, "heavy"

    def find(self, user: User, **path: Any) -> Any:
        """The outlook of the sites in view."""
        sites = sites_with_hours().filter(pk__in=sites_visible(user).values("pk"))
        return outlook(
            sites=list(sites),
            today=today(),
            requests=requests_visible(user),
            responses=responses_visible(user),
        )
