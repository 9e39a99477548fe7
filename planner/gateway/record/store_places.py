"""A network's sites, stations, technicians, profiles and care as records."""

from __future__ import annotations

from planner.engine import network as engine
from planner.engine.network import Closure, Network
from planner.engine.units import DAY
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.store_rows import Keys, create, link, words
from sites.clock import wall_span
from sites.models import (
    CareWindow,
    Downtime,
    Feature,
    Profile,
    ProfileCapture,
    Reserve,
    Shift,
    Site,
    Skill,
    SpecialHours,
    Station,
    Technician,
)


def store_places(network: Network, horizon: Horizon, keys: Keys) -> None:
    """Everything but requests and appointments."""
    keys.features = words(
        Feature,
        [
            *(word for station in network.stations for word in station.features),
            *(word for request in network.requests for word in request.features),
        ],
    )
    keys.skills = words(
        Skill,
        [
            *(word for person in network.technicians for word in person.skills),
            *(word for request in network.requests for word in request.skills),
            *(word for profile in network.profiles for word in profile.skills),
        ],
    )
    _profiles(network, keys)
    _sites(network, horizon, keys)
    _stations(network, horizon, keys)
    _technicians(network, horizon, keys)
    create(
        CareWindow,
        (
            CareWindow(
                code=row.id,
                station=keys.stations[row.station],
                minutes=row.minutes,
                needs_technician=row.technician,
                earliest=horizon.calendar(row.earliest),
                latest=horizon.calendar(row.latest),
            )
            for row in network.care
        ),
    )


def _profiles(network: Network, keys: Keys) -> None:
    rows = create(
        Profile,
        (
            Profile(
                code=row.id,
                setup_mean=row.setup.mean,
                setup_sd=row.setup.sd,
                max_attempts=row.max_attempts,
                remedy_seconds=row.remedy_seconds,
                wrapup_minutes=row.wrapup,
                no_show=row.no_show,
            )
            for row in network.profiles
        ),
    )
    keys.profiles = {row.code: row for row in rows}
    create(
        ProfileCapture,
        (
            ProfileCapture(
                profile=keys.profiles[row.id],
                order=order,
                kind=each.kind,
                count=each.count,
                seconds=each.seconds,
                retake=each.retake,
            )
            for row in network.profiles
            for order, each in enumerate(row.captures)
        ),
    )
    link(
        Profile, "skills", [(keys.profiles[p.id], p.skills) for p in network.profiles], keys.skills
    )


def _sites(network: Network, horizon: Horizon, keys: Keys) -> None:
    rows = create(
        Site, (Site(code=row.id, name=row.name, timezone=row.timezone) for row in network.sites)
    )
    keys.sites = {row.code: row for row in rows}
    hours = []
    for row in network.sites:
        for window in row.open:
            day, opens = horizon.reading(window.start)
            hours.append(
                SpecialHours(
                    site=keys.sites[row.id],
                    day=day,
                    opens=opens,
                    closes=opens + window.end - window.start,
                )
            )
    create(SpecialHours, hours)
    create(
        Reserve,
        (
            Reserve(site=keys.sites[row.site], day=horizon.calendar(row.day), minutes=row.minutes)
            for row in network.reserve
        ),
    )


def _stations(network: Network, horizon: Horizon, keys: Keys) -> None:
    rows = create(
        Station, (Station(code=row.id, site=keys.sites[row.site]) for row in network.stations)
    )
    keys.stations = {row.code: row for row in rows}
    stations = [(keys.stations[row.id], row) for row in network.stations]
    link(Station, "features", [(row, each.features) for row, each in stations], keys.features)
    made = []
    for station, each in stations:
        for time in merged(each.closed):
            day, minute = horizon.reading(time.start)
            span = wall_span(station.site.timezone, day, minute, time.end - time.start)
            made.append(Downtime(station=station, reason=time.why or "closed", **span))
    create(Downtime, made)


def merged(closed: tuple[Closure, ...]) -> list[Closure]:
    """Closed times in order, those that overlap as one: the record keeps one reason for a time."""
    found: list[Closure] = []
    for time in sorted(closed, key=lambda each: (each.start, each.end, each.why)):
        last = found[-1] if found else None
        if last is not None and time.start < last.end:
            why = last.why if time.why in last.why.split("; ") else f"{last.why}; {time.why}"
            found[-1] = Closure(last.start, max(last.end, time.end), why)
        else:
            found.append(time)
    return found


def _technicians(network: Network, horizon: Horizon, keys: Keys) -> None:
    rows = create(
        Technician,
        (
            Technician(code=row.id, name=row.id, home=keys.sites[_home(row, network)])
            for row in network.technicians
        ),
    )
    keys.technicians = {row.code: row for row in rows}
    crew = [(keys.technicians[row.id], row) for row in network.technicians]
    link(Technician, "skills", [(row, each.skills) for row, each in crew], keys.skills)
    create(
        Shift,
        (
            _shift(technician, shift, horizon, keys)
            for technician, each in crew
            for shift in each.shifts
        ),
    )


def _home(row: engine.Technician, network: Network) -> str:
    """The site of the first shift, else the network's first."""
    return row.shifts[0].site if row.shifts else network.sites[0].id


def _shift(technician: Technician, row: engine.Shift, horizon: Horizon, keys: Keys) -> Shift:
    site = keys.sites[row.site]
    day, minute = horizon.reading(row.start)
    span = wall_span(site.timezone, day, minute, row.end - row.start)
    shift = Shift(technician=technician, site=site, break_minutes=row.break_minutes, **span)
    if row.break_minutes:
        offset = horizon.day(day) * DAY
        shift.break_from = max(row.break_start, row.start) - offset
        shift.break_to = min(row.break_end, row.end) - offset
    return shift
