"""Room and use: the minutes that sites have on each day, and the minutes that are booked."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Prefetch, Q, QuerySet, Sum

from sites.clock import MINUTES_A_DAY
from sites.models import (
    OCCUPIES,
    Absence,
    Appointment,
    CareOutcome,
    CareWindow,
    Downtime,
    Shift,
    Site,
    Station,
)
from sites.models.spans import WallSpan
from sites.selectors.hours import Windows, open_windows, without

SiteDay = tuple[int, date]


@dataclass(frozen=True, slots=True)
class DayRoom:
    """Minutes of one site's day.

    ``stations`` are open station minutes less downtimes and care, ``technicians`` those of shifts
    inside opening hours less breaks, absences and care that needs a technician; ``booked`` minutes
    and ``sessions`` are appointments that were not cancelled or missed.
    """

    stations: int
    technicians: int
    booked: int
    sessions: int

    @property
    def room(self) -> int:
        """What the day can hold: the smaller of stations and technicians."""
        return max(0, min(self.stations, self.technicians))

    @property
    def used(self) -> float | None:
        """Booked minutes as a share of open station minutes; None where no station is open."""
        return self.booked / self.stations if self.stations > 0 else None


def sites_with_hours() -> QuerySet[Site]:
    """Sites with everything that `site_room` reads of them, in five queries."""
    stations = Prefetch("stations", Station.objects.filter(in_use=True), to_attr="used")
    return Site.objects.prefetch_related("hours", "special_hours", "closures", stations)


def site_room(*, sites: Sequence[Site], first: date, days: int) -> dict[SiteDay, DayRoom]:
    """Room and bookings of every site (from `sites_with_hours`) and day, in five more queries."""
    last = first + timedelta(days=days - 1)
    windows = {
        (site.pk, day): open_
        for site in sites
        for day, open_ in open_windows(site=site, first_day=first, days=days).items()
    }
    booked = bookings(sites, first, last)
    care = care_minutes(sites, first, last)
    down = by_day(Downtime.objects, "station_id", first, last)
    away = by_day(Absence.objects, "technician_id", first, last)
    people: dict[SiteDay, int] = defaultdict(int)
    for shift in Shift.objects.filter(site__in=sites, day__gte=first, day__lte=last):
        key = (shift.site_id, shift.day)
        inside = clip(windows.get(key, []), shift.minute, shift.minute + shift.minutes)
        for start, end in away.get((shift.technician_id, shift.day), []):
            inside = without(inside, start, end)
        people[key] += max(0, length(inside) - (shift.break_minutes if inside else 0))
    result = {}
    for site in sites:
        for offset in range(days):
            key = (site.pk, first + timedelta(days=offset))
            desks = 0
            for station in site.used:  # type: ignore[attr-defined]
                left = windows[key]
                for start, end in down.get((station.pk, key[1]), []):
                    left = without(left, start, end)
                desks += length(left)
            minutes, sessions = booked.get(key, (0, 0))
            all_care, with_technician = care.get(key, (0, 0))
            result[key] = DayRoom(
                max(0, desks - all_care), max(0, people[key] - with_technician), minutes, sessions
            )
    return result


def bookings(sites: Iterable[Site], first: date, last: date) -> dict[SiteDay, tuple[int, int]]:
    """Booked minutes and sessions by site and day."""
    rows = (
        Appointment.objects.filter(
            station__site__in=sites, day__gte=first, day__lte=last, step__in=OCCUPIES
        )
        .order_by()
        .values_list("station__site_id", "day")
        .annotate(minutes=Sum("minutes"), sessions=Count("pk"))
    )
    return {(site, day): (minutes, sessions) for site, day, minutes, sessions in rows}


def care_minutes(sites: Iterable[Site], first: date, last: date) -> dict[SiteDay, tuple[int, int]]:
    """Minutes of placed care by site and day: all of it, and what needs a technician."""
    rows = (
        CareWindow.objects.filter(station__site__in=sites, day__gte=first, day__lte=last)
        .exclude(outcome=CareOutcome.MISSED)
        .order_by()
        .values_list("station__site_id", "day")
        .annotate(all=Sum("minutes"), people=Sum("minutes", filter=Q(needs_technician=True)))
    )
    return {(site, day): (minutes, people or 0) for site, day, minutes, people in rows}


def by_day(rows: object, key: str, first: date, last: date) -> dict[tuple[int, date], Windows]:
    """Spans cut by day, as minutes ``[from, to)`` of each day, by ``key`` and day."""
    found: dict[tuple[int, date], Windows] = defaultdict(list)
    spans: Iterable[WallSpan] = rows.filter(  # type: ignore[attr-defined]
        day__lte=last, ends_at__date__gte=first - timedelta(days=1)
    )
    for span in spans:
        start, end = span.minute, span.minute + span.minutes
        for offset in range(-(-end // MINUTES_A_DAY)):
            day = span.day + timedelta(days=offset)
            base = offset * MINUTES_A_DAY
            cut = (max(start, base) - base, min(end, base + MINUTES_A_DAY) - base)
            if first <= day <= last:
                found[getattr(span, key), day].append(cut)
    return found


def clip(windows: Windows, start: int, end: int) -> Windows:
    """The windows inside ``[start, end)``."""
    cut = [(max(opens, start), min(closes, end)) for opens, closes in windows]
    return [(opens, closes) for opens, closes in cut if closes > opens]


def length(windows: Windows) -> int:
    """Minutes in all."""
    return sum(closes - opens for opens, closes in windows)
