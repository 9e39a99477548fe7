"""A seeded generator of dense networks: the same size, load and seed give the same network."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from planner.engine.scenario.assemble import assemble, demand_minutes, offers
from planner.engine.scenario.capacity import (
    care_by_site_day,
    opening_by_day,
    shifts_by_site_day,
    site_days,
)
from planner.engine.scenario.crew import make_crew
from planner.engine.scenario.desks import make_care, make_stations
from planner.engine.scenario.people import make_requests
from planner.engine.scenario.places import MOST_STATIONS, make_places
from planner.engine.scenario.profiles import FIRST_SESSIONS, FIRST_SHARES, usual_lengths
from planner.engine.scenario.trim import trim

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.engine.network import Network
    from planner.engine.scenario.places import Place
    from planner.engine.scenario.sizes import Size

_DESK_DAY = 435.0
"""Usual effective minutes of a station-day before leave, from which station counts follow."""
_SURPLUS = 1.02
_NEAR_ENOUGH = 0.01
_TRIES = 20


def generate(size: Size, *, seed: int = 1, load: float = 1.0) -> Network:
    """Make a network whose requests ask for ``load`` times its effective capacity.

    The stations and technicians follow from the size: a station-day holds 20 to 25 sessions.

    Raises ValueError where ``load`` is not above 0 or the sizes do not go together, and
    FileRefused where the network made would not be sound (a fault of this program).
    """
    if not load > 0:
        raise ValueError(f"load: expected a number above 0, got {load}")
    lengths = usual_lengths()
    mean = sum(
        share * lengths[profile.id]
        for profile, share in zip(FIRST_SESSIONS, FIRST_SHARES, strict=True)
    )
    wanted = size.requests * mean / load
    weekdays = sum(day % 7 < 5 for day in range(size.days))
    stations = max(size.sites, math.ceil(wanted * _SURPLUS / (weekdays * _DESK_DAY)))
    for _ in range(_TRIES):
        if stations > size.sites * MOST_STATIONS:
            raise ValueError(
                f"sites: expected at least {math.ceil(stations / MOST_STATIONS)} "
                f"for {size.requests} requests in {size.days} days, got {size.sites}"
            )
        network, miss = _attempt(size, stations, load, seed)
        if abs(miss) <= _NEAR_ENOUGH:
            return network
        if miss > 0:
            raise ValueError(
                f"requests: {size.requests} in {size.days} days cannot fill {size.sites} sites "
                f"at load {load}; ask for more requests or fewer sites"
            )
        stations = math.ceil(stations * 1.02)
    raise ValueError(f"seed: none of {_TRIES} tries reached load {load}; choose another seed")


def _attempt(size: Size, stations: int, load: float, seed: int) -> tuple[Network, float]:
    """A network with so many stations, and its capacity over what is wanted, less 1."""
    places = make_places(size.sites, stations, size.days, seed, regions=size.regions)
    return furnish(places, requests=size.requests, days=size.days, load=load, seed=seed)


def furnish(
    places: Sequence[Place], *, requests: int, days: int, load: float, seed: int
) -> tuple[Network, float]:
    """A network on these places, and its capacity over what ``load`` wants, less 1.

    Stations, crew, care and people are drawn; shifts are trimmed down to the capacity wanted, as
    far as there is more.
    """
    opening = {place.site.id: opening_by_day(place.site) for place in places}
    desks = make_stations(places, days, seed)
    care = make_care(desks, opening, days, seed)
    crew = make_crew(places, seed)
    care_minutes = care_by_site_day(care, desks, opening, days)
    shifts = shifts_by_site_day(shift for draft in crew for shift in draft.shifts)
    full = site_days(opening, desks, shifts, care_minutes)
    room = dict.fromkeys(opening, 0.0)
    for (site, _), day in full.items():
        room[site] += day.effective
    pull = [place.appeal * room[place.site.id] for place in places]
    has = offers(places, desks, [draft.technician() for draft in crew])
    people = make_requests(places, pull, has, count=requests, days=days, seed=seed)
    target = demand_minutes(people, usual_lengths()) / load
    reached = trim(crew, target, opening, desks, care_minutes, seed=seed)
    technicians = tuple(draft.technician() for draft in crew if draft.shifts)
    network = assemble(places, desks, technicians, care, people, days=days, seed=seed)
    return network, reached / target - 1
