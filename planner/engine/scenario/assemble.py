"""Put the parts of an invented network together, and make sure that a plan for it exists."""

from __future__ import annotations

from collections import defaultdict
from datetime import date
from typing import TYPE_CHECKING

from planner.engine.network import Network, Reserve
from planner.engine.rng import stream
from planner.engine.scenario.board import Board
from planner.engine.scenario.booked import make_appointments
from planner.engine.scenario.capacity import (
    care_by_site_day,
    opening_by_day,
    shifts_by_site_day,
    site_days,
)
from planner.engine.scenario.people import Offer
from planner.engine.scenario.profiles import GRAIN, USUAL_POLICY, all_profiles, usual_lengths

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from planner.engine.network import Care, Request, Station, Technician
    from planner.engine.scenario.capacity import SiteDay, SiteDayKey
    from planner.engine.scenario.places import Place

FIRST_DAY = date(2027, 1, 11)
"""A Monday: the weekly patterns of the generator count from it."""
_BOOKED = 0.03
_RESERVED_SITES, _RESERVED_DAYS = 0.4, 0.5
_RESERVE_SHARE, _RESERVE_MOST = 0.06, 90


def demand_minutes(requests: Iterable[Request], lengths: Mapping[str, int]) -> int:
    """Planned minutes that the requests ask for, each at the first of its sites."""
    return sum(lengths[request.sites[0].profile or request.profile] for request in requests)


def offers(
    places: Sequence[Place], stations: Iterable[Station], crew: Iterable[Technician]
) -> list[Offer]:
    """For each place the features of its stations and the skills of those who work there."""
    features: dict[str, set[str]] = defaultdict(set)
    skills: dict[str, set[str]] = defaultdict(set)
    for station in stations:
        features[station.site].update(station.features)
    for technician in crew:
        for shift in technician.shifts:
            skills[shift.site].update(technician.skills)
    ids = [place.site.id for place in places]
    return [Offer(frozenset(features[site]), frozenset(skills[site])) for site in ids]


def assemble(
    places: Sequence[Place],
    stations: tuple[Station, ...],
    crew: tuple[Technician, ...],
    care: Sequence[Care],
    requests: tuple[Request, ...],
    *,
    days: int,
    seed: int,
    booked: float = _BOOKED,
    reserved: Collection[str] | None = None,
) -> Network:
    """The network, with appointments for the share ``booked`` of its requests and with reserves.

    ``reserved`` names the sites that keep room for rework on some days; None draws them.

    Breaks, care and appointments are placed once, so that all of them can be; care for which no
    room was left is not asked for.
    """
    sites = tuple(place.site for place in places)
    board = Board(sites, stations, crew)
    board.place_breaks(stream(seed, "breaks"))
    rng = stream(seed, "care placed")
    possible = tuple(item for item in care if board.place_care(item, rng))
    profiles = all_profiles()
    appointments = make_appointments(
        board,
        requests,
        {profile.id: profile for profile in profiles},
        usual_lengths(),
        count=round(booked * len(requests)),
        days=days,
        rng=stream(seed, "appointments"),
    )
    if reserved is None:
        draw = stream(seed, "reserved sites")
        large = [place.site.id for place in places if place.stations > 1]
        reserved = {site for site in large if draw.random() < _RESERVED_SITES} or large[:1]
    opening = {site.id: opening_by_day(site) for site in sites}
    shifts = shifts_by_site_day(shift for technician in crew for shift in technician.shifts)
    charged = care_by_site_day(possible, stations, opening, days)
    room = site_days(opening, stations, shifts, charged)
    return Network(
        grain=GRAIN,
        first_day=FIRST_DAY,
        days=days,
        policy=USUAL_POLICY,
        profiles=profiles,
        sites=sites,
        stations=stations,
        technicians=crew,
        requests=requests,
        care=possible,
        appointments=appointments,
        reserve=_reserves(room, reserved, seed),
    )


def _reserves(
    room: Mapping[SiteDayKey, SiteDay], sites: Collection[str], seed: int
) -> tuple[Reserve, ...]:
    """Some minutes kept for rework on about half the days of the ``sites``."""
    rng = stream(seed, "reserve")
    found = []
    for (site, day), held in room.items():
        if site in sites and rng.random() < _RESERVED_DAYS:
            minutes = int(min(_RESERVE_MOST, _RESERVE_SHARE * held.effective)) // GRAIN * GRAIN
            if minutes:
                found.append(Reserve(site, day, minutes))
    return tuple(found)
