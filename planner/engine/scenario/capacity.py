"""The effective capacity of a site and day: what sessions can really take, in minutes.

It is the least of three things, each after closed times, breaks and care: the minutes that
stations are open, the minutes that technicians are there, and the minutes that a station and a
technician are there together. Care that may be placed on several days is charged in equal parts
to the days of its window on which its station is open.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from planner.engine.network import Care, Shift, Site, Station, Window

SiteDayKey = tuple[str, int]
"""Site id and day."""


@dataclass(frozen=True, slots=True)
class SiteDay:
    """Minutes of one site on one day, after closed times, breaks and care, none below 0.

    ``station_days`` counts stations open for any minute, ``technician_days`` technicians on
    shift in opening hours.
    """

    station_days: int
    technician_days: int
    station_minutes: float
    technician_minutes: float
    together_minutes: float

    @property
    def effective(self) -> float:
        """Minutes that sessions can take."""
        return min(self.station_minutes, self.technician_minutes, self.together_minutes)


def presence(spans: Iterable[tuple[int, int]], day: int) -> np.ndarray:
    """How many of the ``[start, end)`` spans cover each of the day's 1440 minutes."""
    steps = np.zeros(DAY + 1, dtype=np.int64)
    for start, end in spans:
        first, last = (min(max(minute - day * DAY, 0), DAY) for minute in (start, end))
        steps[first] += 1
        steps[last] -= 1
    return np.cumsum(steps[:DAY])


def site_day(
    day: int,
    opening: Sequence[Window],
    stations: Sequence[Station],
    shifts: Sequence[Shift],
    care: tuple[float, float] = (0.0, 0.0),
) -> SiteDay:
    """Work out one site and day.

    ``opening`` and ``shifts`` may hold other days too; ``care`` is the day's minutes of care that
    take a station, and how many of them take a technician as well.
    """
    is_open = presence(((w.start, w.end) for w in opening), day) > 0
    desks = [
        is_open & (presence(((c.start, c.end) for c in station.closed), day) == 0)
        for station in stations
    ]
    crew = [is_open & (presence([(shift.start, shift.end)], day) > 0) for shift in shifts]
    desk_count = np.sum(desks, axis=0) if desks else np.zeros(DAY, dtype=np.int64)
    crew_count = np.sum(crew, axis=0) if crew else np.zeros(DAY, dtype=np.int64)
    breaks = sum(_break_cost(shift, day, is_open) for shift in shifts)
    care_station, care_technician = care
    return SiteDay(
        station_days=sum(bool(desk.any()) for desk in desks),
        technician_days=sum(bool(person.any()) for person in crew),
        station_minutes=max(0.0, float(desk_count.sum()) - care_station),
        technician_minutes=max(0.0, float(crew_count.sum()) - breaks - care_technician),
        together_minutes=max(
            0.0, float(np.minimum(desk_count, crew_count).sum()) - care_technician
        ),
    )


def _break_cost(shift: Shift, day: int, is_open: np.ndarray) -> int:
    """The fewest minutes of opening time that the shift's break can take."""
    if shift.break_minutes == 0 or shift.start // DAY != day:
        return 0
    first = max(shift.start, shift.break_start) - day * DAY
    last = min(shift.end, shift.break_end, (day + 1) * DAY) - day * DAY - shift.break_minutes
    before = np.concatenate(([0], np.cumsum(is_open)))
    starts = np.arange(first, last + 1)
    if not starts.size:
        return 0
    return int((before[starts + shift.break_minutes] - before[starts]).min())


def site_days(
    opening: Mapping[str, Mapping[int, Sequence[Window]]],
    stations: Iterable[Station],
    shifts: Mapping[SiteDayKey, Sequence[Shift]],
    care: Mapping[SiteDayKey, tuple[float, float]],
) -> dict[SiteDayKey, SiteDay]:
    """Every site and day with opening times; see `opening_by_day` and what follows it."""
    desks: dict[str, list[Station]] = defaultdict(list)
    for station in stations:
        desks[station.site].append(station)
    return {
        (site, day): site_day(
            day,
            windows,
            desks[site],
            shifts.get((site, day), ()),
            care.get((site, day), (0.0, 0.0)),
        )
        for site, by_day in opening.items()
        for day, windows in by_day.items()
    }


def opening_by_day(site: Site) -> dict[int, list[Window]]:
    """The site's opening times by day."""
    days: dict[int, list[Window]] = defaultdict(list)
    for window in site.open:
        days[window.start // DAY].append(window)
    return dict(days)


def shifts_by_site_day(shifts: Iterable[Shift]) -> dict[SiteDayKey, list[Shift]]:
    """Shifts by site and every day that they touch."""
    found: dict[SiteDayKey, list[Shift]] = defaultdict(list)
    for shift in shifts:
        for day in range(shift.start // DAY, (shift.end - 1) // DAY + 1):
            found[shift.site, day].append(shift)
    return dict(found)


def care_by_site_day(
    care: Iterable[Care],
    stations: Iterable[Station],
    opening: Mapping[str, Mapping[int, Sequence[Window]]],
    days: int,
) -> dict[SiteDayKey, tuple[float, float]]:
    """Care minutes by site and day: those that take a station, those that take a technician."""
    by_id = {station.id: station for station in stations}
    found: dict[SiteDayKey, tuple[float, float]] = {}
    for item in care:
        station = by_id[item.station]
        possible = [
            day
            for day in range(max(item.earliest, 0), min(item.latest, days - 1) + 1)
            if station_is_open(station, day, opening[station.site].get(day, []))
        ]
        for day in possible:
            share = item.minutes / len(possible)
            desk, person = found.get((station.site, day), (0.0, 0.0))
            found[station.site, day] = (desk + share, person + share * item.technician)
    return found


def station_is_open(station: Station, day: int, opening: Sequence[Window]) -> bool:
    """Whether the station is open for any minute of the day."""
    is_open = presence(((w.start, w.end) for w in opening), day) > 0
    closed = presence(((c.start, c.end) for c in station.closed), day) > 0
    return bool((is_open & ~closed).any())
