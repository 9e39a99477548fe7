"""Hard networks: each takes an invented network and makes one thing of it extreme."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from planner.engine.network import Care, Network, Request, Site, Station, Technician, Window
from planner.engine.scenario.capacity import opening_by_day, station_is_open
from planner.engine.scenario.crew import SKILLS
from planner.engine.scenario.generate import furnish, generate
from planner.engine.scenario.places import Place, weekly_opening
from planner.engine.scenario.profiles import Rates
from planner.engine.scenario.sizes import Size
from planner.engine.units import DAY

STATIONS, A_DAY = 20, 400
"""Stations of the large site, and what it is asked to book a day."""
CARE = 40
"""Care tasks on one day."""
MONTH = range(7, 38)
"""The days of the month that is closed: 31 of them, from the second Monday on."""
THE_DAY = 2
"""The day on which everything is due, and the one of all the care."""


def large_site(seed: int = 1, days: int = 3) -> Network:
    """One site of 20 stations that is asked to book 400 a day, all it can hold."""
    site = Site("hall", "Hall", "America/Chicago", weekly_opening(days, [((480, 1020),)] * 7))
    place = Place(site, 0.0, 0.0, STATIONS, 1.0, Rates.USUAL)
    network, _ = furnish([place], requests=A_DAY * days, days=days, load=1.0, seed=seed)
    return network


def usual(seed: int = 1) -> Network:
    """What the others start from: 600 requests, four sites, five days, load 1."""
    return generate(Size(requests=600, sites=4, days=5), seed=seed)


def one_skilled(seed: int = 1) -> Network:
    """A skill that one technician holds and two of three requests near them ask for."""
    network = usual(seed)
    skill = SKILLS[0]
    holder = max(network.technicians, key=lambda item: len(item.shifts))
    where = {shift.site for shift in holder.shifts}
    booked = {item.request for item in network.appointments}
    network = replace(network, appointments=())

    def person(item: Technician) -> Technician:
        if item.id == holder.id:
            return replace(item, skills=SKILLS)
        return replace(item, skills=tuple(word for word in item.skills if word != skill))

    def asks(number: int, item: Request) -> Request:
        near = any(choice.site in where for choice in item.sites)
        rest = tuple(word for word in item.skills if word != skill)
        wanted = near and number % 3 != 0 and item.id not in booked
        return replace(item, skills=(skill, *rest) if wanted else rest)

    return replace(
        network,
        technicians=tuple(person(item) for item in network.technicians),
        requests=tuple(asks(k, item) for k, item in enumerate(network.requests)),
    )


def one_hour(seed: int = 1) -> Network:
    """Everybody who is not booked already can come in one hour of one day only."""
    network = usual(seed)
    rng = random.Random(seed)
    opens = {site.id: [w for w in site.open if w.start >= 0] for site in network.sites}
    booked = {item.request for item in network.appointments}

    def hour(item: Request) -> Request:
        if item.id in booked:
            return item
        days = [w for w in opens[item.sites[0].site] if w.start // DAY >= item.release]
        if not days:
            return item
        window = rng.choice(days)
        start = rng.randrange(window.start, max(window.start, window.end - 60) + 1, 15)
        return replace(item, available=(Window(start, start + 60),))

    return replace(network, requests=tuple(hour(item) for item in network.requests))


def all_care_at_once(seed: int = 1) -> Network:
    """The large site with 40 care tasks on one day, every other one with a technician."""
    network = large_site(seed)

    def task(number: int, station: Station) -> Care:
        minutes = 20 + 5 * (number % 5)
        return Care(f"c{number}", station.id, minutes, THE_DAY, THE_DAY, number % 2 == 0)

    opens = opening_by_day(network.sites[0])[THE_DAY]
    able = [item for item in network.stations if station_is_open(item, THE_DAY, opens)]
    care = tuple(task(k, able[k % len(able)]) for k in range(CARE))
    return replace(network, care=care)


def all_due_at_once(seed: int = 1) -> Network:
    """Every request is due on one day, and was released by then."""
    network = usual(seed)
    return replace(
        network,
        requests=tuple(
            replace(item, release=min(item.release, THE_DAY), due=THE_DAY)
            for item in network.requests
        ),
    )


def month_closed(seed: int = 1) -> Network:
    """Forty-five days of which a whole month is closed everywhere; people go on being released."""
    network = generate(Size(requests=1600, sites=2, days=45), seed=seed)

    def shut(day: int) -> bool:
        return day in MONTH

    sites = tuple(
        replace(site, open=tuple(w for w in site.open if not shut(w.start // DAY)))
        for site in network.sites
    )
    days = {site.id: {w.start // DAY for w in site.open} for site in sites}
    where = {station.id: station.site for station in network.stations}
    return replace(
        network,
        sites=sites,
        care=tuple(
            item
            for item in network.care
            if days[where[item.station]] & set(range(item.earliest, item.latest + 1))
        ),
        appointments=tuple(item for item in network.appointments if not shut(item.start // DAY)),
        reserve=tuple(item for item in network.reserve if not shut(item.day)),
    )


HARD: dict[str, Callable[[int], Network]] = {
    "large-site": large_site,
    "one-skilled": one_skilled,
    "one-hour": one_hour,
    "all-care-at-once": all_care_at_once,
    "all-due-at-once": all_due_at_once,
    "month-closed": month_closed,
}
"""Every hard network by name, from a seed."""
