"""Rules of sites, stations, technicians and the care of scanners."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from typing import TYPE_CHECKING
from zoneinfo import available_timezones

from planner.engine.network_rules import values
from planner.engine.network_rules.found import Found, Path, calendar, clock, nearest, shown
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    from planner.engine.network import Care, Network, Shift, Site, Technician


@lru_cache(maxsize=1)
def zones() -> frozenset[str]:
    """The IANA names of time zones; looked up by name only, never as the path of a file."""
    # Both of these mean "whatever this machine is set to", if anything.
    return frozenset(available_timezones() - {"localtime", "Factory"})


def site_faults(network: Network) -> Iterator[Found]:
    """Zones exist; opening times lie within one day each and do not overlap."""
    yield from values.own_ids("sites", network.sites)
    first_day = network.first_day
    for i, site in enumerate(network.sites):
        if site.timezone not in zones():
            guess = nearest(site.timezone, zones())
            remedy = f'did you mean "{guess}"?' if guess else "write one such as Europe/Madrid"
            yield Found(("sites", i, "timezone"), f"{shown(site.timezone)} is no time zone", remedy)
        path = ("sites", i, "open")
        yield from values.spans(path, site.open, first_day)
        for k, window in enumerate(site.open):
            if window.start < window.end and window.end > (window.start // DAY + 1) * DAY:
                until, since = clock(window.end, first_day), clock(window.start, first_day)
                problem = f"{until} is on a later day than `from` ({since})"
                yield Found((*path, k, "to"), problem, "end at midnight and open again after it")
        for before, k in values.overlaps(site.open):
            since = clock(site.open[k].start, first_day)
            problem = f"{since} begins a time that overlaps open[{before}] of this site"
            yield Found((*path, k, "from"), problem, "let one end before the next begins")


def station_faults(network: Network, sites: Mapping[str, Site]) -> Iterator[Found]:
    """A station is of a site that exists."""
    yield from values.own_ids("stations", network.stations)
    for i, station in enumerate(network.stations):
        yield from values.known(("stations", i, "site"), station.site, "sites", sites)
        yield from values.words(("stations", i, "features"), station.features)
        yield from values.spans(("stations", i, "closed"), station.closed, network.first_day)


def technician_faults(network: Network, sites: Mapping[str, Site]) -> Iterator[Found]:
    """Shifts are at sites that exist, do not overlap, and leave room for their breaks."""
    yield from values.own_ids("technicians", network.technicians)
    for i, technician in enumerate(network.technicians):
        path = ("technicians", i, "shifts")
        yield from values.words(("technicians", i, "skills"), technician.skills)
        yield from values.spans(path, technician.shifts, network.first_day)
        for k, shift in enumerate(technician.shifts):
            yield from values.known((*path, k, "site"), shift.site, "sites", sites)
            yield from _break_faults((*path, k), shift, network.first_day)
        for before, k in values.overlaps(technician.shifts):
            since = clock(technician.shifts[k].start, network.first_day)
            problem = f"{since} begins a shift that overlaps shifts[{before}] of this technician"
            yield Found((*path, k, "from"), problem, "let one end before the next begins")
        yield from _zone_faults(i, technician, sites)


def _break_faults(path: Path, shift: Shift, first_day: date) -> Iterator[Found]:
    yield from values.not_negative((*path, "break_minutes"), shift.break_minutes)
    if not shift.break_minutes > 0 or shift.end <= shift.start:
        return
    if shift.break_end <= shift.break_start:
        since, until = clock(shift.break_start, first_day), clock(shift.break_end, first_day)
        problem = f"{until} is not after the start of the break's window ({since})"
        yield Found((*path, "break_to"), problem, "write a later time")
        return
    room = min(shift.end, shift.break_end) - max(shift.start, shift.break_start)
    if room < shift.break_minutes:
        problem = (
            f"{shift.break_minutes} minutes do not fit the {max(room, 0)} that the shift and the "
            "break's window have in common"
        )
        yield Found((*path, "break_minutes"), problem, "shorten the break or widen its window")


def _zone_faults(i: int, technician: Technician, sites: Mapping[str, Site]) -> Iterator[Found]:
    """Shifts that share a date lie in one zone: otherwise their wall clocks cannot be compared."""
    order = sorted(
        (shift.start, shift.end, k, sites[shift.site].timezone)
        for k, shift in enumerate(technician.shifts)
        if shift.start < shift.end and shift.site in sites and sites[shift.site].timezone in zones()
    )
    for (_, end, a, zone), (start, _, b, other) in pairwise(order):
        if zone != other and (end - 1) // DAY >= start // DAY:
            here = other if b > a else zone
            problem = f"is in {here}, but shifts[{min(a, b)}] of the same date is not"
            path = ("technicians", i, "shifts", max(a, b), "site")
            yield Found(path, problem, "keep the shifts of one date in one time zone")


def care_faults(network: Network, stations: Mapping[str, object]) -> Iterator[Found]:
    """Care is of a station that exists, in a window that the horizon reaches."""
    yield from values.own_ids("care", network.care)
    for i, care in enumerate(network.care):
        path = ("care", i)
        yield from values.known((*path, "station"), care.station, "stations", stations)
        yield from values.above_zero((*path, "minutes"), care.minutes)
        yield from _care_window(path, care, network)


def _care_window(path: Path, care: Care, network: Network) -> Iterator[Found]:
    first_day = network.first_day
    if care.latest < care.earliest:
        since, until = calendar(care.earliest, first_day), calendar(care.latest, first_day)
        problem = f"{until} is before `earliest` ({since})"
        yield Found((*path, "latest"), problem, "write a later date, or swap the two")
    # Where the number of days is itself at fault, nobody can say what lies outside.
    elif network.days > 0 and care.latest < 0:
        problem = f"{calendar(care.latest, first_day)} is before the first day of the horizon"
        yield Found((*path, "latest"), problem, "move the window into the horizon")
    elif network.days > 0 and care.earliest >= network.days:
        problem = f"{calendar(care.earliest, first_day)} is after the last day of the horizon"
        yield Found((*path, "earliest"), problem, "move the window into the horizon")
