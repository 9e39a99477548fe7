"""What an offers desk was made from, as bare values: equal stamps mean that it still holds.

Comparing the values, not a counter, needs nobody's help: whatever writes, also raw SQL, is seen.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db.models import Max, QuerySet

from planner.gateway.record.horizon import Horizon
from sites.models import (
    Absence,
    Appointment,
    Break,
    CareWindow,
    Certification,
    Closure,
    Downtime,
    OpeningHours,
    Profile,
    ProfileCapture,
    ProgrammeVersion,
    Reserve,
    ScannerPlacement,
    Shift,
    Site,
    SitePrice,
    SpecialHours,
    Station,
    Technician,
)
from sites.step import OCCUPIES

Stamp = tuple[object, ...]

TIMES = ("pk", "day", "minute", "minutes")
"""The wall clock's reading says where a time is; instants follow from it and the site's zone."""
OF_SITE: tuple[tuple[Any, str, tuple[str, ...]], ...] = (
    (OpeningHours, "site", ("pk", "weekday", "opens", "closes", "starts_on", "ends_on")),
    (SpecialHours, "site", ("pk", "day", "opens", "closes")),
    (Closure, "site", TIMES),
    (Reserve, "site", ("pk", "day", "minutes")),
    (Station, "site", ("pk", "code", "in_use", "features")),
    (ScannerPlacement, "station__site", ("pk", "starts_on", "ends_on", "scanner__takes_rolled")),
    (Technician, "home", ("pk", "skills")),
    (Certification, "technician__home", ("pk", "starts_on", "expires_on")),
    (Site, "pk", ("timezone", "holiday_country", "holiday_subdivision")),
)
"""What changes rarely, by the column that leads to its site."""

OF_DAYS: tuple[tuple[Any, str, tuple[str, ...]], ...] = (
    (CareWindow, "station__site", (*TIMES, "technician_id", "outcome")),
    (Downtime, "station__site", TIMES),
    (Shift, "site", (*TIMES, "technician_id", "break_minutes", "break_from", "break_to")),
    (Break, "shift__site", TIMES),
)
"""What has a time, and so only counts inside the horizon."""

BOOKED = (
    "pk",
    "version",
    "step",
    "day",
    "minute",
    "minutes",
    "station_id",
    "technician_id",
    "fixed",
    "request__profile_id",
    "request__release",
    "request__due",
    "request__priority",
    "request__rework",
)
EVERYWHERE: tuple[QuerySet[Any, Any], ...] = (
    ProgrammeVersion.objects.order_by("pk").values_list(),
    Profile.objects.order_by("pk").values_list(),
    ProfileCapture.objects.order_by("pk").values_list(),
)


def stamps(sites: Sequence[Site], horizon: Horizon) -> dict[str, Stamp]:
    """The stamp of each site's days, by code; the same number of queries for any number of sites.

    Not in it: what the requests of others ask for (features, skills, times). That only shapes whom
    an answer proposes to move, and is read anew when the time is taken.
    """
    found: dict[int, list[object]] = {site.pk: [] for site in sites}
    for model, way, columns in OF_SITE:
        rows = model.objects.filter(**{f"{way}__in": [site.pk for site in sites]})
        _spread(found, rows.order_by(way, "pk").values_list(way, *columns))
    recent = {"starts_at__lt": horizon.until, "ends_at__gt": horizon.since}
    for model, way, columns in OF_DAYS:
        rows = model.objects.filter(**{f"{way}__in": sites}, **recent)
        _spread(found, rows.order_by(way, "pk").values_list(way, *columns))
    span = {"day__gte": horizon.first_day, "day__lte": horizon.last_day}
    booked = Appointment.objects.filter(station__site__in=sites, step__in=OCCUPIES, **span)
    way = "station__site"
    _spread(found, booked.order_by(way, "pk").values_list(way, *BOOKED))
    _spread(found, _absences(sites, recent))
    everywhere: list[object] = [tuple(rows.all()) for rows in EVERYWHERE]
    everywhere.append(SitePrice.objects.aggregate(run=Max("run"))["run"])
    return {site.code: (site.pk, *found[site.pk], *everywhere) for site in sites}


def _spread(found: dict[int, list[object]], rows: Any) -> None:
    """Give each site its rows of one kind."""
    by_site: dict[int, list[object]] = defaultdict(list)
    for site, *values in rows:
        by_site[site].append(tuple(values))
    for key, mine in found.items():
        mine.append(tuple(by_site[key]))


def _absences(sites: Sequence[Site], recent: dict[str, Any]) -> list[tuple[Any, ...]]:
    """Times away of whoever works at the sites, by each site that they work at."""
    works = set(Shift.objects.filter(site__in=sites, **recent).values_list("technician", "site"))
    away = Absence.objects.filter(technician__in={who for who, _ in works}, **recent)
    rows = list(away.order_by("pk").values_list("technician_id", *TIMES))
    return [(site, *row) for who, site in sorted(works) for row in rows if row[0] == who]
