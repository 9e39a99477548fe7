"""The booking problem: a network and its lengths, indexed for the two levels of planning."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.breaks import (
    crosses_midnight,
    latest_free,
    open_spans,
    outside_opening,
)
from planner.engine.booking.classes import NeedClasses, need_classes
from planner.engine.booking.siteday import (
    Block,
    SiteDay,
    Worker,
    break_day,
    closed_blocks,
    day_opens,
    day_worker,
)
from planner.engine.network import Appointment, Network
from planner.engine.units import DAY

Key = tuple[int, int]


@dataclass(slots=True)
class Index:
    """Places of ids in the network's lists."""

    site: dict[str, int]
    station: dict[str, int]
    technician: dict[str, int]
    profile: dict[str, int]
    request: dict[str, int]


@dataclass(slots=True)
class Problem:
    """A network made ready: site-days, planned lengths and who may serve whom.

    ``lengths[p]`` is the planned minutes of profile ``p``. ``early_breaks`` maps (technician,
    shift) to the start, in network minutes, of each break that needs no planning.
    """

    network: Network
    lengths: NDArray[np.int32]
    index: Index
    needs: NeedClasses
    sitedays: list[SiteDay] = field(default_factory=list)
    at: dict[Key, int] = field(default_factory=dict)
    early_breaks: dict[Key, int] = field(default_factory=dict)
    fixed_of: dict[int, Appointment] = field(default_factory=dict)
    movable_of: dict[int, Appointment] = field(default_factory=dict)


def index_of(network: Network) -> Index:
    """Index every id of the network."""
    return Index(
        site={site.id: k for k, site in enumerate(network.sites)},
        station={station.id: k for k, station in enumerate(network.stations)},
        technician={person.id: k for k, person in enumerate(network.technicians)},
        profile={profile.id: k for k, profile in enumerate(network.profiles)},
        request={request.id: k for k, request in enumerate(network.requests)},
    )


def build_problem(network: Network, lengths: dict[str, int]) -> Problem:
    """Index a network for planning with these planned lengths (minutes by profile id)."""
    index = index_of(network)
    minutes = np.array([lengths[profile.id] for profile in network.profiles], dtype=np.int32)
    problem = Problem(network, minutes, index, need_classes(network, index.profile))
    for appointment in network.appointments:
        kind = problem.fixed_of if appointment.fixed else problem.movable_of
        kind[index.request[appointment.request]] = appointment
    _place_early_breaks(problem)
    _build_sitedays(problem)
    return problem


def _place_early_breaks(problem: Problem) -> None:
    network, index = problem.network, problem.index
    taken: dict[int, list[Key]] = {}
    for appointment in problem.fixed_of.values():
        span = (appointment.start, appointment.start + appointment.minutes)
        taken.setdefault(index.technician[appointment.technician], []).append(span)
    for k, person in enumerate(network.technicians):
        for number, shift in enumerate(person.shifts):
            if not shift.break_minutes:
                continue
            busy = taken.get(k, [])
            opens = open_spans(network, index.site[shift.site], shift)
            start = outside_opening(shift, opens, busy)
            beyond = not 0 <= break_day(shift) < network.days
            if start is None and (beyond or crosses_midnight(shift)):
                start = latest_free(shift, busy)
            if start is not None:
                problem.early_breaks[k, number] = start


def _build_sitedays(problem: Problem) -> None:
    network, index = problem.network, problem.index
    stations_at: dict[int, list[int]] = {}
    for k, station in enumerate(network.stations):
        stations_at.setdefault(index.site[station.site], []).append(k)
    shifts_at: dict[Key, list[Key]] = {}
    for k, person in enumerate(network.technicians):
        for number, shift in enumerate(person.shifts):
            for day in range(shift.start // DAY, (shift.end - 1) // DAY + 1):
                shifts_at.setdefault((index.site[shift.site], day), []).append((k, number))
    reserve = {(index.site[item.site], item.day): item.minutes for item in network.reserve}
    fixed = _fixed_by_siteday(problem)
    for site in range(len(network.sites)):
        open_days = {window.start // DAY for window in network.sites[site].open}
        for day in sorted(open_days):
            if 0 <= day < network.days:
                key = (site, day)
                problem.at[key] = len(problem.sitedays)
                problem.sitedays.append(
                    _siteday(
                        problem,
                        key,
                        stations_at.get(site, []),
                        shifts_at.get(key, []),
                        reserve.get(key, 0),
                        fixed.get(key, []),
                    )
                )


def _siteday(
    problem: Problem,
    key: Key,
    stations: list[int],
    shifts: list[Key],
    reserve: int,
    fixed: list[tuple[int, Appointment]],
) -> SiteDay:
    network = problem.network
    site, day = key
    opens = day_opens(network, site, day)
    closed = [
        block
        for place, station in enumerate(stations)
        for block in closed_blocks(network.stations[station], place, day * DAY, opens)
    ]
    workers: list[Worker] = []
    early: list[Block] = []
    for person, number in shifts:
        worker = day_worker(network.technicians[person].shifts[number], person, number, day)
        if worker is None:
            continue
        start = problem.early_breaks.get((person, number))
        if start is not None:
            minutes = network.technicians[person].shifts[number].break_minutes
            low, high = max(0, start - day * DAY), min(DAY, start + minutes - day * DAY)
            if low < high:
                early.append(Block(low, high - low, -1, len(workers)))
            worker = type(worker)(
                person, number, worker.start, worker.end, 0, worker.break_start, worker.break_end
            )
        workers.append(worker)
    found = SiteDay(
        index=len(problem.sitedays),
        site=site,
        day=day,
        opens=opens,
        stations=tuple(stations),
        workers=tuple(workers),
        closed=tuple(closed),
        reserve=reserve,
    )
    found.fixed = tuple(early) + _fixed_blocks(problem, found, fixed)
    return found


def _fixed_blocks(
    problem: Problem, siteday: SiteDay, fixed: list[tuple[int, Appointment]]
) -> tuple[Block, ...]:
    """The fixed appointments of a site-day as blocks, by start."""
    index = problem.index
    place = {station: k for k, station in enumerate(siteday.stations)}
    blocks = []
    for request, appointment in fixed:
        start = appointment.start - siteday.day * DAY
        person = index.technician[appointment.technician]
        worker = next(
            k
            for k, item in enumerate(siteday.workers)
            if item.technician == person and item.start <= start < item.end
        )
        station = place[index.station[appointment.station]]
        profile = profile_at(problem, request, siteday.site)
        blocks.append(Block(start, appointment.minutes, station, worker, profile, request))
    return tuple(sorted(blocks, key=lambda block: (block.start, block.station)))


def _fixed_by_siteday(problem: Problem) -> dict[Key, list[tuple[int, Appointment]]]:
    network, index = problem.network, problem.index
    found: dict[Key, list[tuple[int, Appointment]]] = {}
    for request, item in problem.fixed_of.items():
        site = index.site[network.stations[index.station[item.station]].site]
        found.setdefault((site, item.start // DAY), []).append((request, item))
    return found


def profile_at(problem: Problem, request: int, site: int) -> int:
    """The profile of a request at a site (its own, or the one learnt there)."""
    item = problem.network.requests[request]
    site_id = problem.network.sites[site].id
    choice = next(choice for choice in item.sites if choice.site == site_id)
    return problem.index.profile[choice.profile or item.profile]
