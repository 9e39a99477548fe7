"""One site's day: everybody and everything that has a time there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sites.models import (
    Absence,
    Appointment,
    Break,
    CareOutcome,
    CareWindow,
    Downtime,
    ProgrammeVersion,
    Shift,
    Site,
    Station,
)
from sites.selectors.hours import Windows, open_windows
from sites.selectors.room import by_day


@dataclass(frozen=True)
class SiteDayRows:
    """Rows of one site's day, each list in the order of time.

    ``windows`` are opening times, ``closed`` downtimes of a station as (from, to, why) and ``away``
    absences of a technician, all in minutes past midnight; ``terms`` are all versions of all
    programmes, for promises that are shown and not kept with each appointment.
    """

    windows: Windows
    stations: list[Station]
    appointments: list[Appointment]
    care: list[CareWindow]
    shifts: list[Shift]
    breaks: list[Break]
    closed: dict[int, list[tuple[int, int, str]]]
    away: dict[int, Windows]
    terms: list[ProgrammeVersion]


def site_day_rows(*, site: Site, day: date) -> SiteDayRows:
    """Read a day, in 15 queries whatever happens on it."""
    shifts = list(
        Shift.objects.filter(site=site, day=day).select_related("technician").order_by("minute")
    )
    people = [shift.technician_id for shift in shifts]
    downs = Downtime.objects.filter(station__site=site)
    whys = {row.pk: row.reason for row in downs}
    closed: dict[int, list[tuple[int, int, str]]] = {}
    for (pk, _), times in by_day(downs, "pk", day, day).items():
        closed[pk] = [(start, end, whys[pk]) for start, end in times]
    by_station: dict[int, list[tuple[int, int, str]]] = {}
    for row in downs:
        by_station.setdefault(row.station_id, []).extend(closed.get(row.pk, []))
    away = by_day(Absence.objects.filter(technician__in=people), "technician_id", day, day)
    booked = Appointment.objects.filter(station__site=site, day=day).select_related(
        "request__profile", "request__terms", "station", "technician"
    )
    care = CareWindow.objects.filter(station__site=site, day=day).select_related(
        "station", "technician"
    )
    return SiteDayRows(
        windows=open_windows(site=site, first_day=day, days=1)[day],
        stations=list(site.stations.filter(in_use=True).prefetch_related("features")),
        appointments=list(
            booked.order_by("minute").prefetch_related(
                "request__profile__captures", "request__profile__skills"
            )
        ),
        care=list(care.exclude(outcome=CareOutcome.MISSED).order_by("minute")),
        shifts=shifts,
        breaks=list(
            Break.objects.filter(shift__site=site, day=day)
            .select_related("technician")
            .order_by("minute")
        ),
        closed=by_station,
        away={who: times for (who, _), times in away.items()},
        terms=list(ProgrammeVersion.objects.order_by("programme", "starts_on")),
    )
