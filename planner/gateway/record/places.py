"""Sites and stations of the record as the engine sees them in a horizon."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from django.db.models import Prefetch, Q

from planner.engine import network as engine
from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Closure, Window
from planner.gateway.record.horizon import Horizon
from sites.models import (
    Closure as SiteClosure,
)
from sites.models import (
    Downtime,
    Reserve,
    ScannerPlacement,
    Site,
    SpecialHours,
    Station,
)
from sites.selectors.hours import open_windows

ROLLED = "takes_rolled"
"""A feature of our own, asked for only where a scanner for flats only is among the stations."""


def find_sites(horizon: Horizon, codes: Collection[str] | None) -> list[Site]:
    """The sites asked for, with their hours at hand. Raises FileRefused for codes of no site."""
    span = {"day__gte": horizon.first_day, "day__lte": horizon.last_day}
    recent = Q(day__lte=horizon.last_day, ends_at__gt=horizon.since)
    rows = Site.objects.order_by("code").prefetch_related(
        "hours",
        Prefetch("special_hours", SpecialHours.objects.filter(**span)),
        Prefetch("closures", SiteClosure.objects.filter(recent)),
    )
    if codes is None:
        return list(rows)
    found = list(rows.filter(code__in=codes))
    missing = sorted(set(codes) - {site.code for site in found})
    if missing:
        raise FileRefused(
            [
                Fault(f"site {code}", "is not in the record", "name a site's code")
                for code in missing
            ]
        )
    return found


def engine_site(site: Site, horizon: Horizon) -> engine.Site:
    """Opening hours less holidays and closures; times that overlap become one."""
    spans: list[Window] = []
    by_day = open_windows(site=site, first_day=horizon.first_day, days=horizon.days)
    for day, windows in by_day.items():
        for opens, closes in windows:
            start, end = horizon.minute(day, opens), horizon.minute(day, closes)
            if spans and start < spans[-1].end:
                spans[-1] = Window(spans[-1].start, max(end, spans[-1].end))
            else:
                spans.append(Window(start, end))
    return engine.Site(site.code, site.name, site.timezone, tuple(spans))


def find_stations(sites: Iterable[Site], booked: Collection[int]) -> list[Station]:
    """Stations in use at these sites, and those out of use that somebody is booked at."""
    rows = (
        Station.objects.filter(site__in=sites)
        .select_related("site")
        .order_by("code")
        .prefetch_related(
            "features", Prefetch("placements", ScannerPlacement.objects.select_related("scanner"))
        )
    )
    return [row for row in rows if row.in_use or row.pk in booked]


def flats_only(stations: Iterable[Station], horizon: Horizon) -> set[int]:
    """Stations whose scanner, on any day of the horizon, does not take rolled prints."""
    return {
        station.pk
        for station in stations
        for place in station.placements.all()
        if place.starts_on <= horizon.last_day
        and (place.ends_on is None or place.ends_on > horizon.first_day)
        and not place.scanner.takes_rolled
    }


def downtimes(sites: Iterable[Site], horizon: Horizon) -> list[tuple[int, Closure]]:
    """Times in which a station takes nobody, by the key of the station."""
    rows = Downtime.objects.filter(
        station__site__in=sites, day__lte=horizon.last_day, ends_at__gt=horizon.since
    ).values_list("station_id", "day", "minute", "minutes", "reason")
    found = []
    for station, day, minute, minutes, reason in rows:
        start = horizon.minute(day, minute)
        if horizon.reaches(start, start + minutes):
            found.append((station, Closure(start, start + minutes, reason)))
    return found


def engine_station(
    station: Station,
    closed: Iterable[Closure],
    horizon: Horizon,
    *,
    rolled: bool | None,
) -> engine.Station:
    """A station; ``rolled`` says whether it takes rolled prints, None where nobody need ask."""
    words = sorted(each.code for each in station.features.all())
    if rolled:
        words.append(ROLLED)
    times = sorted(closed, key=lambda each: (each.start, each.end, each.why))
    if not station.in_use:
        times = [Closure(0, horizon.end, "not in use")]
    return engine.Station(station.code, station.site.code, tuple(words), tuple(times))


def engine_reserves(sites: Iterable[Site], horizon: Horizon) -> tuple[engine.Reserve, ...]:
    """Minutes that only rework may use."""
    rows = Reserve.objects.filter(
        site__in=sites, day__gte=horizon.first_day, day__lte=horizon.last_day, minutes__gt=0
    ).order_by("site__code", "day")
    return tuple(
        engine.Reserve(code, horizon.day(day), minutes)
        for code, day, minutes in rows.values_list("site__code", "day", "minutes")
    )
