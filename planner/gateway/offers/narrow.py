"""Which times a caller would take: by day, place, part of day and skill."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date, datetime

from planner.engine import network as engine
from planner.engine.network import Window
from planner.engine.units import DAY, NOON
from planner.gateway.offers.desk import SiteDesk
from sites.clock import wall
from sites.models import Site

LONGEST_DAYS = 366
PARTS = {"am": (0, NOON), "pm": (NOON, DAY)}
"""Parts of a day, by when a session starts."""


@dataclass(frozen=True, slots=True)
class Narrow:
    """``first`` and ``last`` are days, included; ``part`` one of `PARTS`; empty: any."""

    first: date | None = None
    last: date | None = None
    site: str = ""
    part: str = ""
    skill: str = ""


ANY = Narrow()


def skills_of(sites: Collection[Site]) -> list[str]:
    """The skills of technicians who work at these sites, in order."""
    rows = Site.objects.filter(pk__in=[site.pk for site in sites])
    found = rows.values_list("technicians__skills__code", flat=True).distinct()
    return sorted(skill for skill in found if skill)


def narrowed(
    request: engine.Request, where: SiteDesk, narrow: Narrow, now: datetime
) -> engine.Request | None:
    """The request as it is asked at one site, or None where nothing there could fit.

    A time that the person cannot reach from here and now, by the request's travel to the site, is
    no offer.
    """
    choice = next((each for each in request.sites if each.site == where.site.code), None)
    if choice is None:
        return None
    if narrow.skill and narrow.skill not in request.skills:
        request = replace(request, skills=(*request.skills, narrow.skill))
    day, minute = wall(where.site.timezone, now)
    earliest = where.horizon.minute(day, minute) + choice.travel
    low, high = 0, where.horizon.days
    if narrow.first is not None:
        low = max(low, where.horizon.day(narrow.first))
    if narrow.last is not None:
        high = min(high, where.horizon.day(narrow.last) + 1)
    low = max(low, request.release)
    spans = [Window(max(low * DAY, earliest), high * DAY)]
    if narrow.part:
        begins, ends = PARTS[narrow.part]
        # A session of the morning starts before noon, and may end after it.
        more = where.desk.search.need(request, choice).minutes - 1 if ends < DAY else 0
        spans = [
            Window(max(d * DAY + begins, earliest), d * DAY + ends + more) for d in range(low, high)
        ]
    windows = [
        Window(max(a.start, b.start), min(a.end, b.end))
        for a in spans
        for b in request.available or (Window(low * DAY, high * DAY),)
    ]
    windows = [each for each in windows if each.start < each.end]
    return replace(request, available=tuple(windows)) if windows else None
