"""A network as the regions it consists of: each a network of its own, every id unchanged."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from planner.engine.network import Network


def split(network: Network, *, least: int = 1) -> tuple[Network, ...]:
    """The independent regions of a network, in the order of their first sites.

    Two sites belong together where a request may be served at either, where a technician has a
    shift at both, or where an appointment ties one's station to whoever works at the other.
    Stations, scanner care and reserves belong to a site. Regions of fewer than ``least`` requests
    are put together, since each costs a run of its own; a network that hangs together comes back
    as it is.

    Nothing is in two regions and nothing in none: requests without a site, and technicians who
    work nowhere and have no appointment, are in the first. Profiles, policy and horizon are in
    all.
    """
    group = _groups(network)
    if group.max(initial=0) == 0:
        return (network,)
    group = _no_small_ones(group, _counts(network, group), least)
    if group.max() == 0:
        return (network,)
    return _parts(network, group)


def _groups(network: Network) -> np.ndarray:
    """For each site the number of its region, counted by first sites."""
    index = {site.id: k for k, site in enumerate(network.sites)}
    home = {station.id: index[station.site] for station in network.stations}
    works = {item.id: [index[at.site] for at in item.shifts] for item in network.technicians}
    served = {item.id: [index[at.site] for at in item.sites] for item in network.requests}
    for item in network.appointments:
        works[item.technician].append(home[item.station])
        served[item.request].append(home[item.station])
    return _components(len(index), {tuple(sites) for sites in (*works.values(), *served.values())})


def _components(count: int, together: Iterable[Sequence[int]]) -> np.ndarray:
    pairs = {(sites[0], other) for sites in together if sites for other in sites[1:]}
    ends = np.array(sorted(pairs), dtype=np.int64).reshape(-1, 2)
    graph = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    if not count:
        return np.zeros(0, dtype=np.int64)
    _, found = connected_components(graph, directed=False)
    return _renumbered(found)


def _renumbered(group: np.ndarray) -> np.ndarray:
    """The same groups, numbered in the order in which they first come."""
    _, first, place = np.unique(group, return_index=True, return_inverse=True)
    return np.argsort(np.argsort(first))[place]


def _counts(network: Network, group: np.ndarray) -> np.ndarray:
    index = {site.id: k for k, site in enumerate(network.sites)}
    of = [group[index[item.sites[0].site]] for item in network.requests if item.sites]
    return np.bincount(np.array(of, dtype=np.int64), minlength=int(group.max()) + 1)


def _no_small_ones(group: np.ndarray, counts: np.ndarray, least: int) -> np.ndarray:
    """Groups with fewer than ``least`` requests put together until they have them."""
    into = np.arange(len(counts))
    held: list[int] = []
    for region in np.flatnonzero(counts < least):
        held.append(int(region))
        if counts[held].sum() >= least:
            into[held] = held[0]
            held = []
    if held:
        large = [int(k) for k in np.unique(into) if k not in held]
        into[held] = min(large, key=lambda k: counts[into == k].sum()) if large else held[0]
    return _renumbered(into[group])


def _parts(network: Network, group: np.ndarray) -> tuple[Network, ...]:
    """The network cut along groups of sites."""
    of_site = {site.id: int(group[k]) for k, site in enumerate(network.sites)}
    of_station = {station.id: of_site[station.site] for station in network.stations}
    booked = {item.request: of_station[item.station] for item in network.appointments}
    with_whom = {item.technician: of_station[item.station] for item in network.appointments}
    of_request = {
        item.id: of_site[item.sites[0].site] if item.sites else booked.get(item.id, 0)
        for item in network.requests
    }
    of_person = {
        item.id: of_site[item.shifts[0].site] if item.shifts else with_whom.get(item.id, 0)
        for item in network.technicians
    }
    return tuple(
        replace(
            network,
            sites=tuple(item for item in network.sites if of_site[item.id] == k),
            stations=tuple(item for item in network.stations if of_station[item.id] == k),
            technicians=tuple(item for item in network.technicians if of_person[item.id] == k),
            requests=tuple(item for item in network.requests if of_request[item.id] == k),
            care=tuple(item for item in network.care if of_station[item.station] == k),
            appointments=tuple(
                item for item in network.appointments if of_station[item.station] == k
            ),
            reserve=tuple(item for item in network.reserve if of_site[item.site] == k),
        )
        for k in range(int(group.max()) + 1)
    )
