"""Invented requests: who has to come, when, where they can go, what they need."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.network import Request, SiteChoice, Window
from planner.engine.rng import stream
from planner.engine.scenario.crew import SKILLS
from planner.engine.scenario.desks import FEATURES
from planner.engine.scenario.profiles import FIRST_SESSIONS, FIRST_SHARES, REWORK, profile_at
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.engine.network import Profile
    from planner.engine.scenario.places import Place

_NEAR = 5
"""Sites looked at for one request: the nearest ones to the site of its area."""
_FARTHEST = 60
"""Minutes of travel beyond which a second or third site is not offered."""
_SPREAD = 9.0
"""Standard deviation of a home around its area's site, minutes, along each axis."""
_BACKLOG = 0.45
"""Share of the requests that are open when the horizon begins."""
_REWORK, _PICKY, _FEATURED, _SKILLED = 0.04, 0.25, 0.05, 0.06
_FEATURE_SHARES = (0.4, 0.3, 0.2, 0.1)
_SKILL_SHARES = (0.5, 0.35, 0.15)


@dataclass(frozen=True, slots=True)
class Offer:
    """What a site has: features of its stations and skills of its technicians."""

    features: frozenset[str]
    skills: frozenset[str]


def make_requests(
    places: Sequence[Place],
    pull: Sequence[float],
    offers: Sequence[Offer],
    *,
    count: int,
    days: int,
    seed: int,
) -> tuple[Request, ...]:
    """``count`` requests around the ``places``; ``pull`` is each place's share of them, unscaled.

    A feature or skill is asked for only where one of the request's sites has it.
    """
    rng = stream(seed, "requests")
    order, travel = _choices(places, np.asarray(pull), count, rng)
    several = rng.choice((1, 2, 3), size=count, p=(0.35, 0.4, 0.25))
    rework = rng.random(count) < _REWORK
    kind = rng.choice(len(FIRST_SESSIONS), size=count, p=FIRST_SHARES)
    release, due = _dates(rework, days, rng)
    weight = np.where(rework, 2, rng.choice((1, 2, 3), size=count, p=(0.93, 0.055, 0.015)))
    picky = np.where(rng.random(count) < _PICKY, rng.integers(1, 4, count), 0)
    off_day = rng.integers(5, size=count)
    feature = _wanted(FEATURES, _FEATURED, _FEATURE_SHARES, count, rng)
    skill = _wanted(SKILLS, _SKILLED, _SKILL_SHARES, count, rng)
    hard_rework = rework & (rng.random(count) < 0.5)
    choices = _SiteChoices(places)
    found = []
    for i in range(count):
        sites = [
            int(site)
            for rank, site in enumerate(order[i])
            if rank == 0 or (rank < several[i] and travel[i, rank] <= _FARTHEST)
        ]
        profile = REWORK if rework[i] else FIRST_SESSIONS[kind[i]]
        want = SKILLS[0] if hard_rework[i] else skill[i]
        found.append(
            Request(
                id=f"r{i + 1:06d}",
                profile=profile.id,
                release=int(release[i]),
                due=int(due[i]),
                weight=int(weight[i]),
                sites=tuple(
                    choices.choice(site, profile, int(travel[i, rank]))
                    for rank, site in enumerate(sites)
                ),
                rework=bool(rework[i]),
                available=_available(int(picky[i]), int(off_day[i]), int(release[i]), days),
                features=_if_had(feature[i], [offers[site].features for site in sites]),
                skills=_if_had(want, [offers[site].skills for site in sites]),
            )
        )
    return tuple(found)


def _choices(
    places: Sequence[Place], pull: np.ndarray, count: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Per request its area's site, then the nearest others (indices), and the travel, minutes."""
    at = np.array([(place.x, place.y) for place in places])
    apart = np.hypot(*(at[:, None, :] - at[None, :, :]).transpose(2, 0, 1))
    near = np.argsort(apart, axis=1, kind="stable")[:, :_NEAR]
    area = rng.choice(len(places), size=count, p=pull / pull.sum())
    home = at[area] + rng.normal(0, _SPREAD, (count, 2))
    seen = near[area]
    away = np.hypot(*(at[seen] - home[:, None, :]).transpose(2, 0, 1))
    rank = np.argsort(np.where(seen == area[:, None], -1, away), axis=1, kind="stable")
    travel = np.maximum(3, np.rint(np.take_along_axis(away, rank, 1))).astype(int)
    return np.take_along_axis(seen, rank, 1), travel


def _dates(
    rework: np.ndarray, days: int, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    """Release and due days: part backlog, the rest coming in on weekdays; rework is urgent.

    Nobody is released on the last weekday of the horizon or later: most could not come any more.
    """
    count = len(rework)
    weekdays = [day for day in range(days) if day % 7 < 5]
    backlog = rng.random(count) < _BACKLOG
    later = rng.choice(weekdays[:-1] or weekdays, size=count)
    release = np.where(backlog, -rng.integers(0, 15, count), later)
    due = release + np.where(rework, rng.integers(5, 12, count), rng.integers(8, 29, count))
    return release, due


def _wanted(
    words: Sequence[str],
    share: float,
    shares: Sequence[float],
    count: int,
    rng: np.random.Generator,
) -> list[str | None]:
    which = rng.choice(len(words), size=count, p=shares)
    asked = rng.random(count) < share
    return [words[k] if yes else None for k, yes in zip(which, asked, strict=True)]


def _if_had(word: str | None, had: Sequence[frozenset[str]]) -> tuple[str, ...]:
    return (word,) if word is not None and any(word in words for words in had) else ()


class _SiteChoices:
    """One object for equal choices: there are few, and a large network holds many."""

    def __init__(self, places: Sequence[Place]) -> None:
        self._places = places
        self._made: dict[tuple[int, str, int], SiteChoice] = {}

    def choice(self, site: int, profile: Profile, travel: int) -> SiteChoice:
        key = (site, profile.id, travel)
        if key not in self._made:
            place = self._places[site]
            learnt = profile_at(profile, place.rates)
            self._made[key] = SiteChoice(place.site.id, travel, learnt)
        return self._made[key]


@cache
def _available(kind: int, off_day: int, release: int, days: int) -> tuple[Window, ...]:
    """Mornings (1), afternoons (2) or two days a week (3) of the ten days from release; 0 is any.

    Where the horizon leaves none of those days, any time will do.
    """
    first = max(release, 0)
    weekdays = [d for d in range(first, min(first + 10, days)) if d % 7 < 5]
    if kind == 3:
        weekdays = [d for d in weekdays if d % 7 in (off_day, (off_day + 2) % 5)]
    span = {0: (0, 0), 1: (420, 750), 2: (735, 1200), 3: (420, 1200)}[kind]
    if kind == 0:
        return ()
    return tuple(Window(d * DAY + span[0], d * DAY + span[1]) for d in weekdays)
