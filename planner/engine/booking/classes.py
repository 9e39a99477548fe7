"""Requests that ask for the same features, or the same skills, are of one class."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.network import Network

Words = frozenset[str]


@dataclass(frozen=True, slots=True)
class NeedClasses:
    """Distinct needs and who meets them. Class 0 asks for nothing.

    ``station_ok`` has shape (feature classes, stations), ``technician_ok`` (skill classes,
    technicians). ``feature_of[r]`` is the class of request ``r``; ``skill_of`` maps (request,
    profile) to a class, since the profile's skills are added.
    """

    features: tuple[Words, ...]
    skills: tuple[Words, ...]
    station_ok: NDArray[np.bool_]
    technician_ok: NDArray[np.bool_]
    feature_of: NDArray[np.int32]
    skill_of: dict[tuple[int, int], int]


def need_classes(network: Network, profile_index: dict[str, int]) -> NeedClasses:
    """Find the distinct needs of a network's requests."""
    features: dict[Words, int] = {frozenset(): 0}
    skills: dict[Words, int] = {frozenset(): 0}
    feature_of = np.zeros(len(network.requests), dtype=np.int32)
    skill_of: dict[tuple[int, int], int] = {}
    for r, request in enumerate(network.requests):
        wanted = frozenset(request.features)
        feature_of[r] = features.setdefault(wanted, len(features))
        asked = frozenset(request.skills)
        for name in {choice.profile or request.profile for choice in request.sites}:
            profile = profile_index[name]
            both = asked | frozenset(network.profiles[profile].skills)
            skill_of[r, profile] = skills.setdefault(both, len(skills))
    have = [frozenset(station.features) for station in network.stations]
    can = [frozenset(person.skills) for person in network.technicians]
    return NeedClasses(
        features=tuple(features),
        skills=tuple(skills),
        station_ok=_meets(tuple(features), have),
        technician_ok=_meets(tuple(skills), can),
        feature_of=feature_of,
        skill_of=skill_of,
    )


def _meets(wanted: tuple[Words, ...], have: list[Words]) -> NDArray[np.bool_]:
    table = np.zeros((len(wanted), len(have)), dtype=np.bool_)
    for k, words in enumerate(wanted):
        table[k] = [words <= owned for owned in have]
    return table
