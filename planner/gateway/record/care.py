"""Scanner care in a horizon: windows that a plan may place, and those that rules will ask for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from planner.engine.network import Care, Site
from planner.engine.units import DAY
from planner.gateway.record.horizon import Horizon
from sites.models import CareOutcome, CareWindow, Station
from sites.selectors.care import CareDue, care_due

WITHIN = 7
"""Days from the first of the horizon in which care that is overdue must be placed."""
Usable = Callable[[CareWindow, date], bool]


@dataclass(frozen=True, slots=True)
class CareFound:
    """``open`` care by the id in the network (rows of rules not saved yet); ``held`` has its time.

    What is held is fixed by a person, done, or no plan's to place any more.
    """

    open: dict[str, tuple[Care, CareWindow]]
    held: list[CareWindow]


def find_care(stations: Iterable[Station], horizon: Horizon, usable: Usable) -> CareFound:
    """Care of these stations, in three queries; ``usable`` says whether a day could take it."""
    here = {station.pk: station for station in stations}
    rows = list(
        CareWindow.objects.filter(station__in=here, outcome="")
        .filter(
            Q(latest__gte=horizon.first_day)
            | Q(day__isnull=True)
            | Q(day__gte=horizon.calendar(-1))
        )
        .order_by("latest", "code")
        .select_related("technician")
    )
    found: dict[str, tuple[Care, CareWindow]] = {}
    held: list[CareWindow] = []
    for row in rows:
        row.station = here[row.station_id]
        inside = row.day is None or horizon.first_day <= row.day <= horizon.last_day
        if row.fixed or not inside:
            held += [row] if row.day is not None else []
        elif row.earliest <= horizon.last_day:
            found[row.code] = (_care(row, horizon), row)
    for due in care_due(stations=list(here.values()), today=horizon.first_day):
        for row in coming(due, rows, horizon, usable):
            row.station = here[row.station_id]
            found[row.code] = (_care(row, horizon), row)
    done = CareWindow.objects.filter(
        station__in=here, outcome=CareOutcome.DONE, day__gte=horizon.first_day
    )
    return CareFound(found, [*held, *done.select_related("technician")])


def _care(row: CareWindow, horizon: Horizon) -> Care:
    """A window for the engine; overdue care is due in the horizon's first days."""
    earliest, latest = horizon.day(row.earliest), horizon.day(row.latest)
    if latest < 0:
        latest = min(WITHIN, horizon.days) - 1
    return Care(row.code, row.station.code, row.minutes, earliest, latest, row.needs_technician)


def coming(
    due: CareDue, planned: list[CareWindow], horizon: Horizon, usable: Usable
) -> list[CareWindow]:
    """Windows that a rule asks for in the horizon and nobody has planned yet.

    A window runs from the day care is due to the end of its grace. Where no day of it could take
    the care, it is the next day that could. The time after that counts from the window's begin.
    """
    rule, day, found = due.rule, due.due, list[CareWindow]()
    waiting = [row for row in planned if row.station_id == due.station.pk and row.kind == rule.kind]
    while day <= horizon.last_day:
        late = day + timedelta(days=rule.grace_days)
        match = next((row for row in waiting if (row.day or row.earliest) <= late), None)
        if match is not None:
            waiting.remove(match)
            begins = match.day or match.latest
        else:
            row = _window(due, day, late)
            days = [
                each for each in _days(max(day, horizon.first_day), horizon) if usable(row, each)
            ]
            if not days:
                break
            begins = days[0]
            row.earliest, row.latest = begins, max(begins, late)
            row.code = f"{rule.kind}-{rule.scanner_id}-{begins:%Y-%m-%d}"
            found.append(row)
        if rule.every_days is None:
            break
        day = max(begins, day) + timedelta(days=rule.every_days)
    return found


def _window(due: CareDue, day: date, late: date) -> CareWindow:
    rule = due.rule
    return CareWindow(
        station=due.station,
        scanner_id=rule.scanner_id,
        kind=rule.kind,
        minutes=rule.minutes,
        needs_technician=rule.needs_technician,
        earliest=day,
        latest=late,
    )


def _days(first: date, horizon: Horizon) -> list[date]:
    return [horizon.calendar(day) for day in range(horizon.day(first), horizon.days)]


def usable_days(sites: Iterable[Site], shifts: set[tuple[str, int]], horizon: Horizon) -> Usable:
    """Whether a site is open long enough on a day, with somebody on shift where care needs it."""
    longest: dict[tuple[str, int], int] = {}
    for site in sites:
        for window in site.open:
            key = (site.id, window.start // DAY)
            longest[key] = max(longest.get(key, 0), window.end - window.start)

    def usable(row: CareWindow, day: date) -> bool:
        key = (row.station.site.code, horizon.day(day))
        staffed = not row.needs_technician or key in shifts
        return staffed and longest.get(key, 0) >= row.minutes

    return usable
