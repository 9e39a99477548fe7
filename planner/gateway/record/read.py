"""Records into a network: a fixed number of queries, however many requests there are."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date
from functools import partial

from planner.engine import network as engine
from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Closure, Network
from planner.gateway.record.care import CareFound, find_care, usable_days
from planner.gateway.record.crew import Busy, engine_technician, find_technicians
from planner.gateway.record.demand import UNDER_WAY, Demand, Wanted, find_demand
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.places import (
    downtimes,
    engine_reserves,
    engine_site,
    engine_station,
    find_sites,
    find_stations,
    flats_only,
)
from planner.gateway.record.requests import (
    Around,
    engine_appointment,
    engine_profile,
    engine_request,
    rolled_profiles,
)
from planner.gateway.record.terms import all_terms, grain_of, latest, policy_of
from sites.models import Appointment, Profile, Site, Station, Step, Technician

_PLACE = re.compile(r"(profiles|sites|stations|technicians|requests|care|appointments)\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class Reading:
    """A network and the rows behind it, by the ids in the network."""

    network: Network
    requests: dict[str, Wanted]
    sites: dict[str, Site]
    appointments: dict[str, Appointment]
    active: dict[int, Appointment]
    stations: dict[str, Station]
    technicians: dict[str, Technician]
    care: CareFound


def read(
    *,
    first_day: date,
    days: int,
    sites: Collection[str] | None = None,
    requests: Collection[str] | None = None,
) -> Network:
    """The record as a network for ``days`` days from ``first_day``; see the package."""
    return gather(first_day=first_day, days=days, sites=sites, requests=requests).network


def gather(
    *,
    first_day: date,
    days: int,
    sites: Collection[str] | None = None,
    requests: Collection[str] | None = None,
) -> Reading:
    """`read`, with the rows."""
    if days < 1:
        raise FileRefused([Fault("days", f"{days} is not above 0", "ask for at least one day")])
    horizon = Horizon(first_day, days)
    places = find_sites(horizon, sites)
    demand = find_demand(horizon)
    booked = _here(demand, horizon)
    stations = find_stations(places, {row.station_id for row in booked.values()})
    crew = find_technicians(places, horizon)
    station_codes = {row.pk: row.code for row in stations}
    crew_codes = {row.pk: row.code for row in crew}
    booked = {
        key: row
        for key, row in booked.items()
        if row.station_id in station_codes and row.technician_id in crew_codes
    }
    asked = None if requests is None else set(requests)
    demand = _servable(demand, booked, asked)

    network_sites = tuple(engine_site(site, horizon) for site in places)
    shifts = {
        (row.site.code, horizon.day(row.day)) for person in crew for row in person.shifts.all()
    }
    care = find_care(stations, horizon, usable_days(network_sites, shifts, horizon))
    closed, busy = _taken(places, stations, care, horizon)
    flats = flats_only(stations, horizon)
    profiles = {
        row.pk: row
        for row in Profile.objects.order_by("code").prefetch_related("captures", "skills")
    }
    terms = all_terms()
    used = {row.terms for row in demand.requests.values()}
    in_use = [terms[key] for key in sorted(used)] or latest(terms.values(), first_day)
    policy = policy_of(in_use)
    around = Around(
        horizon=horizon,
        policy=policy,
        terms=terms,
        profiles=profiles,
        sites={site.pk: site for site in places},
        demand=demand,
        rolled=rolled_profiles(profiles) if flats else None,
    )
    wanted = {
        key: found
        for key, row in demand.requests.items()
        if (found := engine_request(row, around)) is not None
    }
    appointments = tuple(
        engine_appointment(
            row,
            found.id,
            station_codes,
            crew_codes,
            horizon,
            fixed=row.fixed
            or row.step in UNDER_WAY
            or (asked is not None and found.id not in asked),
        )
        for key, row in sorted(booked.items(), key=lambda item: item[1].code)
        if (found := wanted.get(key)) is not None
    )
    make = partial(
        Network,
        grain=grain_of(in_use),
        first_day=first_day,
        days=days,
        policy=policy,
        profiles=tuple(engine_profile(row) for row in profiles.values()),
        sites=network_sites,
        stations=tuple(
            engine_station(
                row, closed[row.pk], horizon, rolled=row.pk not in flats if flats else None
            )
            for row in stations
        ),
        technicians=tuple(engine_technician(row, busy[row.pk], horizon) for row in crew),
        requests=tuple(wanted.values()),
        care=tuple(each for each, _ in care.open.values()),
        appointments=appointments,
        reserve=engine_reserves(places, horizon),
    )
    try:
        network = make()
    except FileRefused as error:
        raise FileRefused(_named(error.faults, make.keywords)) from error
    return Reading(
        network=network,
        requests={row.reference: row for row in demand.requests.values()},
        sites={row.code: row for row in places},
        appointments={row.code: row for row in demand.appointments.values()},
        active=demand.appointments,
        stations={row.code: row for row in stations},
        technicians={row.code: row for row in crew},
        care=care,
    )


def _here(demand: Demand, horizon: Horizon) -> dict[int, Appointment]:
    """Appointments that have a place in the horizon, by the key of their request."""
    return {
        key: row
        for key, row in demand.appointments.items()
        if row.step != Step.DISPLACED and horizon.first_day <= row.day <= horizon.last_day
    }


def _servable(demand: Demand, booked: dict[int, Appointment], asked: set[str] | None) -> Demand:
    """What is asked for and has no appointment elsewhere, and whoever has one here."""
    free = {
        key
        for key, row in demand.requests.items()
        if (asked is None or row.reference in asked)
        and (key not in demand.appointments or demand.appointments[key].step == Step.DISPLACED)
    }
    requests = {key: row for key, row in demand.requests.items() if key in booked or key in free}
    return Demand(requests, demand.appointments, demand.areas, demand.given)


def _taken(
    places: Iterable[Site], stations: Iterable[Station], care: CareFound, horizon: Horizon
) -> tuple[dict[int, list[Closure]], dict[int, list[Busy]]]:
    """Times that stations are closed, and that technicians have no time, by key."""
    closed: dict[int, list[Closure]] = defaultdict(list)
    busy: dict[int, list[Busy]] = defaultdict(list)
    for station, time in downtimes(places, horizon):
        closed[station].append(time)
    for row in care.held:
        if row.day is None or row.minute is None or row.starts_at is None or row.ends_at is None:
            continue
        start = horizon.minute(row.day, row.minute)
        if horizon.reaches(start, start + row.minutes):
            closed[row.station_id].append(Closure(start, start + row.minutes, row.kind))
            if row.technician_id is not None:
                busy[row.technician_id].append((row.starts_at, row.ends_at))
    held = Appointment.objects.filter(
        station__in=stations, step=Step.HELD, day__gte=horizon.first_day, day__lte=horizon.last_day
    )
    for one in held:
        start = horizon.minute(one.day, one.minute)
        closed[one.station_id].append(Closure(start, start + one.minutes, "session held"))
        busy[one.technician_id].append((one.starts_at, one.ends_at))
    return closed, busy


def _named(faults: Iterable[Fault], parts: dict[str, tuple[engine.Site, ...]]) -> list[Fault]:
    """The same faults with the record's names in place of numbers in a list."""

    def name(match: re.Match[str]) -> str:
        kind = match[1].removesuffix("s") if match[1] != "care" else "care"
        return f"{kind} {parts[match[1]][int(match[2])].id}"

    return [Fault(_PLACE.sub(name, fault.path), fault.problem, fault.remedy) for fault in faults]
