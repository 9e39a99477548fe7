"""Invented sites: where they lie, how many stations they have and when they are open."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.network import Site, Window
from planner.engine.rng import stream
from planner.engine.scenario.names import place_names
from planner.engine.scenario.profiles import Rates
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_STATIONS = 14
_APART = 22.0
"""Typical travel between neighbouring sites, minutes."""
_BETWEEN = 300.0
"""Minutes of travel between two regions: nobody goes to a site of another, or works there."""
_ZONES = ("America/Chicago", "America/New_York", "America/Halifax")
_HOURS = ((480, 1020), (480, 1020), (510, 1020), (480, 990), (450, 990), (540, 1050))
"""Opening times as (from, to) in minutes past midnight; the first is written twice: it is usual."""
_LUNCH = (720, 765)
_EVENING_END = 1200
LATE_WEEKDAY = 3
"""The weekday (Monday is 0) on which one site in ten stays open for the evening."""


@dataclass(frozen=True, slots=True)
class Place:
    """A site, its place on a map measured in minutes of travel, and what draws people there.

    ``appeal`` is the demand it draws for each unit of its capacity, relative to the others;
    ``region`` the part of the map it lies in, from 0.
    """

    site: Site
    x: float
    y: float
    stations: int
    appeal: float
    rates: Rates
    region: int = 0


def make_places(
    count: int, stations: int, days: int, seed: int, *, regions: int = 1
) -> tuple[Place, ...]:
    """``count`` sites with ``stations`` stations between them, at least one each.

    The ``regions`` hold about as many sites each, and lie `_BETWEEN` minutes apart.

    Raises ValueError where the stations do not suffice or do not fit.
    """
    if not count <= stations <= count * MOST_STATIONS:
        raise ValueError(
            f"sites: expected {-(-stations // MOST_STATIONS)} to {stations} for "
            f"{stations} stations, got {count}"
        )
    rng = stream(seed, "places")
    region = np.arange(count) * regions // count
    columns = math.ceil((-(-count // regions)) ** 0.5)
    width = regions * columns * _APART + (regions - 1) * _BETWEEN
    xs, ys = _scatter(region, columns, rng)
    names = place_names(count, rng)
    shares = _share_out(stations, rng.lognormal(0, 0.8, count))
    appeal = np.clip(rng.lognormal(0, 0.18, count), 0.7, 1.4)
    rates = rng.choice(np.arange(3), size=count, p=(0.6, 0.2, 0.2))
    kinds = tuple(Rates)
    zones = np.minimum((xs / width * len(_ZONES)).astype(int), len(_ZONES) - 1)
    return tuple(
        Place(
            Site(
                names[i].lower(),
                names[i],
                _ZONES[zones[i]],
                _opening(days, shares[i], evening=i % 10 == 0, rng=rng),
            ),
            float(xs[i]),
            float(ys[i]),
            shares[i],
            float(appeal[i]),
            kinds[int(rates[i])],
            int(region[i]),
        )
        for i in range(count)
    )


def _scatter(
    region: np.ndarray, columns: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Places on a map, one to a cell of its region's grid: no two are on top of each other."""
    count = len(region)
    cell = np.arange(count) - np.searchsorted(region, region)
    xs = (cell % columns + rng.uniform(0.15, 0.85, count)) * _APART
    ys = (cell // columns + rng.uniform(0.15, 0.85, count)) * _APART
    return xs + region * (columns * _APART + _BETWEEN), ys


def _share_out(stations: int, pull: np.ndarray) -> list[int]:
    """Stations per site: one each, the rest by ``pull``, none above `MOST_STATIONS`."""
    found = np.ones(len(pull), dtype=int)
    for _ in range(stations - len(pull)):
        want = np.where(found < MOST_STATIONS, pull / found, -1.0)
        found[int(np.argmax(want))] += 1
    return [int(n) for n in found]


def _opening(
    days: int, stations: int, *, evening: bool, rng: np.random.Generator
) -> tuple[Window, ...]:
    start, end = _HOURS[int(rng.integers(len(_HOURS)))]
    lunch = not evening and stations <= 2 and rng.random() < 0.25
    week: list[Sequence[tuple[int, int]]] = []
    for weekday in range(5):
        last = _EVENING_END if evening and weekday == LATE_WEEKDAY else end
        week.append([(start, _LUNCH[0]), (_LUNCH[1], last)] if lunch else [(start, last)])
    return weekly_opening(days, [*week, (), ()])


def weekly_opening(days: int, week: Sequence[Sequence[tuple[int, int]]]) -> tuple[Window, ...]:
    """Opening times over the horizon from seven days' (from, to), Monday first.

    The horizon begins on a Monday.
    """
    return tuple(
        Window(day * DAY + start, day * DAY + end)
        for day in range(days)
        for start, end in week[day % 7]
    )
