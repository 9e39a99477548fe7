"""Rules of requests and reserves."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from planner.engine.network_rules import values
from planner.engine.network_rules.found import Found, calendar, shown

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from planner.engine.network import (
        Network,
        Profile,
        Request,
        Site,
    )


def request_faults(
    network: Network, sites: Mapping[str, Site], profiles: Mapping[str, Profile]
) -> Iterator[Found]:
    """Requests ask for profiles and sites that exist, with sound weights and windows."""
    yield from values.own_ids("requests", network.requests)
    for i, request in enumerate(network.requests):
        path = ("requests", i)
        if values.is_missing(request.profile, profiles):
            yield from values.known((*path, "profile"), request.profile, "profiles", profiles)
        if request.due < request.release:
            release = calendar(request.release, network.first_day)
            problem = f"{calendar(request.due, network.first_day)} is before `release` ({release})"
            yield Found((*path, "due"), problem, "write a later date, or swap the two")
        if not 0 < request.weight < inf:
            yield from values.above_zero((*path, "weight"), request.weight)
        yield from _choice_faults(i, request, sites, profiles)
        if request.available:
            yield from values.spans((*path, "available"), request.available, network.first_day)
        yield from values.words((*path, "features"), request.features)
        yield from values.words((*path, "skills"), request.skills)
        if request.unbooked is not None:
            yield from values.not_negative((*path, "unbooked"), request.unbooked)


def _choice_faults(
    i: int, request: Request, sites: Mapping[str, Site], profiles: Mapping[str, Profile]
) -> Iterator[Found]:
    first: dict[str, int] = {}
    for k, choice in enumerate(request.sites):
        path = ("requests", i, "sites", k)
        if values.is_missing(choice.site, sites):
            yield from values.known((*path, "site"), choice.site, "sites", sites)
        if choice.site and (before := first.setdefault(choice.site, k)) != k:
            problem = f"{shown(choice.site)} is given twice, first in sites[{before}]"
            yield Found((*path, "site"), problem, "keep one of them")
        if not 0 <= choice.travel < inf:
            yield from values.not_negative((*path, "travel"), choice.travel)
        if choice.profile is not None:
            yield from values.known((*path, "profile"), choice.profile, "profiles", profiles)


def reserve_faults(network: Network, sites: Mapping[str, Site]) -> Iterator[Found]:
    """A reserve is of a site that exists, once for a site and day."""
    first: dict[tuple[str, int], int] = {}
    for i, reserve in enumerate(network.reserve):
        path = ("reserve", i)
        yield from values.known((*path, "site"), reserve.site, "sites", sites)
        yield from values.above_zero((*path, "minutes"), reserve.minutes)
        before = first.setdefault((reserve.site, reserve.day), i)
        if reserve.site and before != i:
            day = calendar(reserve.day, network.first_day)
            problem = f"{day} of {shown(reserve.site)} is given twice, first in reserve[{before}]"
            yield Found((*path, "date"), problem, "keep one reserve for a site and day")
