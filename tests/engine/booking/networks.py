"""Random small networks with every feature of the format, for tests that must hold for any.

Everything hangs on one choice function, so that the same builder serves Hypothesis (which shrinks
what fails) and a seeded generator (which draws evenly).
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from hypothesis import strategies as st

from planner.engine.network import (
    Appointment,
    Capture,
    Care,
    Closure,
    Cost,
    Network,
    Policy,
    Profile,
    Request,
    Reserve,
    Setup,
    Site,
    SiteChoice,
    Station,
    Technician,
    Window,
)
from planner.engine.units import DAY
from tests.engine.booking.rosters import Pick, draw_shifts

if TYPE_CHECKING:
    from planner.engine.network import Shift

CAPTURES = (Capture("plain", 3, 20.0, 0.1), Capture("rolled", 10, 25.0, 0.16))
PROFILES = (
    Profile("usual", Setup(7.0, 3.0), CAPTURES, 3, 30.0, 3, 0.08),
    Profile("worn", Setup(8.0, 3.0), CAPTURES, 3, 50.0, 3, 0.06, ("patient",)),
    Profile("constant", Setup(20.0, 0.0), (), 1, 0.0, 0, 0.0),
    Profile("long", Setup(90.5, 30.0), (), 1, 0.0, 0, 0.0),
    Profile("nobody", Setup(30.0, 5.0), CAPTURES, 2, 30.0, 0, 1.0),
    Profile("instant", Setup(0.0, 0.0), (), 1, 0.0, 0, 0.0),
    Profile("steps", Setup(0.0, 0.0), (Capture("plain", 2, 300.0, 0.5),), 4, 0.0, 0, 0.3),
)
COSTS = (
    Cost(30.0, 3.0, 0.1, 0.01, 2.0),
    Cost(5.0, 3.0, 2.0, 0.2, 0.0),
    Cost(0.0, 0.0, 0.0, 0.0, 5.0),
)
POLICIES = tuple(
    Policy(wait, wait_risk, late, late_risk, cost)
    for cost in (*COSTS[:1] * 3, *COSTS)
    for wait, wait_risk, late, late_risk in (
        (15, 0.10, 20, 0.05),
        (0, 1.0, 0, 1.0),
        (5, 0.3, 0, 0.5),
        (10, 0.05, 30, 1.0),
        (600, 0.0, 600, 0.0),
    )
)
USUAL = ((540, 1020),)
OPENINGS: tuple[tuple[tuple[int, int], ...], ...] = (
    *(USUAL,) * 5,
    (),
    ((540, 720), (720, 1020)),
    ((480, 700), (701, 760), (800, 1000)),
    ((600, 660),),
    ((0, 60), (1320, 1440)),
    ((0, 1440),),
)
"""Opening times of one day, in minutes past midnight."""
ZONES = ("Europe/Madrid", "Europe/Madrid", "Atlantic/Canary")
SKILLS = ("patient", "signing")
FEATURES = ("lift", "quiet")
CROWDS = (1, 2, 4, 8, 16, 30, 30, 0)


@st.composite
def networks(draw: Any) -> Network:
    """Sound networks, as a strategy."""
    return build_network(lambda options: draw(st.sampled_from(options)))


def random_network(seed: int) -> Network:
    """A sound network drawn evenly from a seed."""
    return build_network(random.Random(seed).choice)


def build_network(pick: Pick) -> Network:
    """A sound network of 1 to 3 days, up to 3 sites, 4 stations, 4 technicians, 30 requests."""
    days = pick((1, 2, 3))
    sites = tuple(_site(pick, k, days) for k in range(pick((1, 1, 1, 2, 2, 3))))
    some = (1, 2, 2, 3, 3, 4, 4, 4, 0)
    stations = tuple(_station(pick, k, sites, days) for k in range(pick(some)))
    technicians = tuple(
        Technician(
            f"t{k}", pick((SKILLS, SKILLS, SKILLS[:1], ())), draw_shifts(pick, sites, k, days)
        )
        for k in range(pick(some))
    )
    profiles = tuple(PROFILES[k] for k in sorted({pick(range(len(PROFILES))) for _ in range(3)}))
    requests = tuple(_request(pick, k, sites, profiles, days) for k in range(pick(CROWDS)))
    return Network(
        grain=pick((5, 1, 7, 15)),
        first_day=date(2026, 3, 27),
        days=days,
        policy=pick(POLICIES),
        profiles=profiles,
        sites=sites,
        stations=stations,
        technicians=technicians,
        requests=requests,
        care=_cares(pick, stations, days),
        appointments=_appointments(pick, requests, stations, technicians),
        reserve=_reserves(pick, sites, days),
    )


def _site(pick: Pick, k: int, days: int) -> Site:
    opens = [
        Window(day * DAY + start, day * DAY + end)
        for day in range(-1, days + 1)
        for start, end in pick(OPENINGS)
    ]
    return Site(f"s{k}", f"Site {k}", ZONES[k], tuple(opens))


def _span(pick: Pick, days: int, longest: int) -> tuple[int, int]:
    start = pick(range(-24, (days + 1) * 24 + 1)) * 60 + pick((0, 0, 0, 30, 7))
    return start, start + pick(range(1, longest + 1))


def _station(pick: Pick, k: int, sites: tuple[Site, ...], days: int) -> Station:
    closed = [Closure(*_span(pick, days, 600), "downtime") for _ in range(pick((0, 0, 1, 3)))]
    features = pick(((), FEATURES, FEATURES[1:]))
    return Station(f"d{k}", pick((sites[k % len(sites)], *sites)).id, features, tuple(closed))


def _request(
    pick: Pick, k: int, sites: tuple[Site, ...], profiles: tuple[Profile, ...], days: int
) -> Request:
    names = [profile.id for profile in profiles]
    chosen = [site for site in sites if pick((True,) * 9 + (False,))]
    release = pick((*(0,) * 9, -3, -1, 1, days))
    free = [
        Window(*_span(pick, days, pick((120, 900, 2000))))
        for _ in range(pick((0, 0, 0, 0, 0, 0, 1, 3)))
    ]
    return Request(
        id=f"r{k}",
        profile=pick(names),
        release=release,
        due=release + pick((0, 1, 2, 4)),
        weight=pick((1.0, 1.0, 0.25, 3.0)),
        sites=tuple(
            SiteChoice(site.id, pick(range(91)), pick((None, None, *names))) for site in chosen
        ),
        rework=pick((False, False, True)),
        available=tuple(free),
        features=pick((*((),) * 8, FEATURES[1:], FEATURES)),
        skills=pick((*((),) * 8, SKILLS[:1], SKILLS)),
        unbooked=pick((*(None,) * 9, 0.0, 1.5, 100.0)),
    )


def _cares(pick: Pick, stations: tuple[Station, ...], days: int) -> tuple[Care, ...]:
    cares = []
    for k in range(pick((0, 0, 0, 1, 2, 4)) if stations else 0):
        earliest = pick(range(-1, days))
        cares.append(
            Care(
                f"c{k}",
                pick(stations).id,
                pick((30, 15, 60, 1, 240)),
                earliest,
                max(0, earliest) + pick((0, 1, 2)),
                pick((True, False)),
            )
        )
    return tuple(cares)


def _appointments(
    pick: Pick,
    requests: tuple[Request, ...],
    stations: tuple[Station, ...],
    technicians: tuple[Technician, ...],
) -> tuple[Appointment, ...]:
    found = []
    often = pick((0, 1, 6))
    for k, request in enumerate(requests):
        if pick(range(20)) >= often:
            continue
        where = {choice.site for choice in request.sites}
        chances = [
            (station, person, shift)
            for station in stations
            for person in technicians
            for shift in person.shifts
            if station.site in where and shift.site == station.site
        ]
        if chances:
            station, person, shift = pick(chances)
            start, minutes = _inside(pick, shift)
            fixed = pick((True, False, False))
            found.append(
                Appointment(f"a{k}", request.id, station.id, person.id, start, minutes, fixed)
            )
    return tuple(found)


def _inside(pick: Pick, shift: Shift) -> tuple[int, int]:
    """A start and minutes near a shift, mostly inside it."""
    start = shift.start + pick(range((shift.end - shift.start) // 10 + 1)) * 10
    return start + pick((0, 0, 0, 3, -40)), pick((20, 18, 25, 1, 90))


def _reserves(pick: Pick, sites: tuple[Site, ...], days: int) -> tuple[Reserve, ...]:
    places = [(site.id, day) for site in sites for day in range(-1, days + 1)]
    chosen = sorted({pick(places) for _ in range(pick((0, 0, 1, 2)))})
    return tuple(Reserve(site, day, pick((1, 60, 400, 2000))) for site, day in chosen)


def certain(network: Network) -> Network:
    """The network with sessions of certain length and promises that never bind.

    Each profile's sessions take a constant number of minutes and nobody stays away. A row planned
    at that length is never late, told times are at most grain - 1 minutes early, and a shorter
    length would be late by more (12 minutes after 12 sessions), so this is the planned length, and
    every plan that keeps rules 1 to 8 keeps rule 9.
    """
    lengths = {"usual": 20, "worn": 25, "constant": 35, "long": 90, "nobody": 10}
    profiles = tuple(
        replace(
            item,
            setup=Setup(float(lengths.get(item.id, 3)), 0.0),
            captures=(),
            wrapup=0,
            no_show=0.0,
        )
        for item in network.profiles
    )
    policy = replace(
        network.policy,
        wait_minutes=network.grain - 1,
        wait_risk=0.0,
        overtime_minutes=0,
        overtime_risk=0.0,
    )
    return replace(network, profiles=profiles, policy=policy)
