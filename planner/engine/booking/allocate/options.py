"""Options: every (request, site, day, part of day) that rules 1 to 3 leave open, with its cost.

A table of flat arrays, sorted by request, so that the ascent can run through it at memory speed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.starts import count_parts, fill_parts
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import SiteDay
from planner.engine.units import DAY, NOON

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

Minutes: TypeAlias = NDArray[np.int32] | NDArray[np.float64]
"""Whole planned minutes; or, in practice, the minutes of room that a session takes."""

CARE_LEFT_OUT = 1e7


@dataclass(slots=True)
class Options:
    """Flat arrays, an entry an option; those of request ``r`` are ``first[r]`` to ``first[r+1]``.

    ``siteday``, ``part`` (0 before noon, 1 after), ``profile`` and ``minutes`` say what is taken,
    ``cost`` what the objective charges, ``stay`` whether it is the place a movable appointment
    already has. ``unbooked[r]`` is the cost of leaving request ``r`` out. Requests with a fixed
    appointment have no options and an unbooked cost of 0. ``cheapest[r]`` is the cost of the
    cheapest feasible place, also where that is not worth it and so no option (inf: none).

    Care follows the requests: care ``c`` is entry ``len(requests) + c``, with profile and skill
    -1, cost 0, and an unbooked cost so high that it is left out only where it cannot be placed.
    """

    first: NDArray[np.int64]
    request: Ints
    siteday: Ints
    part: NDArray[np.int8]
    profile: Ints
    minutes: Minutes
    cost: Floats
    stay: NDArray[np.bool_]
    skill: Ints
    unbooked: Floats
    cheapest: Floats


@dataclass(slots=True)
class Candidates:
    """(request, site choice) pairs by site, with what they need there."""

    request: Ints
    site: Ints
    profile: Ints
    travel: Ints
    skill: Ints


def candidates(problem: Problem) -> Candidates:
    """Every pair of a request that is not fixed and a site where it may be served."""
    network, index = problem.network, problem.index
    rows: list[tuple[int, int, int, int, int]] = []
    for r, request in enumerate(network.requests):
        if r in problem.fixed_of:
            continue
        for choice in request.sites:
            profile = index.profile[choice.profile or request.profile]
            skill = problem.needs.skill_of[r, profile]
            rows.append((r, index.site[choice.site], profile, choice.travel, skill))
    table = np.array(rows, dtype=np.int32).reshape(-1, 5)
    table = table[np.argsort(table[:, 1], kind="stable")]
    return Candidates(table[:, 0], table[:, 1], table[:, 2], table[:, 3], table[:, 4])


@dataclass(slots=True)
class Times:
    """Available times by request, CSR: windows ``first[r]`` to ``first[r+1]``; none means any."""

    first: NDArray[np.int64]
    start: NDArray[np.int64]
    end: NDArray[np.int64]


def available_times(problem: Problem) -> Times:
    """The available windows of every request, in network minutes."""
    requests = problem.network.requests
    counts = [len(request.available) for request in requests]
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    windows = [window for request in requests for window in request.available]
    start = np.array([window.start for window in windows], dtype=np.int64)
    end = np.array([window.end for window in windows], dtype=np.int64)
    return Times(first, start, end)


def build_options(problem: Problem) -> Options:
    """List the options of every request (MODEL.md, set O)."""
    network = problem.network
    found = candidates(problem)
    times = available_times(problem)
    release = np.array([request.release for request in network.requests], dtype=np.int32)
    feature = problem.needs.feature_of
    pieces: list[Ints] = []
    for site in range(len(network.sites)):
        low, high = np.searchsorted(found.site, [site, site + 1])
        if low == high:
            continue
        rows = np.column_stack(
            [
                feature[found.request[low:high]],
                found.skill[low:high],
                problem.lengths[found.profile[low:high]],
            ]
        )
        combos, combo = np.unique(rows, axis=0, return_inverse=True)
        day_row = np.full(network.days, -1, dtype=np.int32)
        tables: list[NDArray[np.int16]] = []
        for day in range(network.days):
            g = problem.at.get((site, day))
            if g is not None:
                day_row[day] = len(tables)
                tables.append(start_table(problem, g, combos))
        if not tables:
            continue
        starts = np.stack(tables)
        request = found.request[low:high]
        args = (
            request, combo.reshape(-1).astype(np.int32), release, day_row, starts,
            combos[:, 2].astype(np.int32), times.first, times.start, times.end,
        )  # fmt: skip
        out = np.zeros((count_parts(*args), 3), dtype=np.int32)
        fill_parts(*args, out)
        sitedays = np.array(
            [problem.at.get((site, day), -1) for day in range(network.days)], dtype=np.int32
        )
        k = out[:, 0] + low
        pieces.append(
            np.column_stack(
                [found.request[k], sitedays[out[:, 1]], out[:, 2], found.profile[k],
                 found.travel[k], out[:, 1], found.skill[k]]
            ).astype(np.int32)
        )  # fmt: skip
    table = np.concatenate(pieces) if pieces else np.zeros((0, 7), dtype=np.int32)
    return _priced(problem, table)


def start_table(problem: Problem, g: int, combos: NDArray[np.int32]) -> NDArray[np.int16]:
    """How many feasible starts lie before each minute, one row a combination of needs.

    ``combos`` has columns feature class, skill class, minutes. A start is feasible where some
    able station and some able worker are free for the whole planned length: which of them makes
    no difference, since any able worker may use any able station. Shape (combos, 1441).
    """
    siteday = problem.sitedays[g]
    stations = np.array(siteday.stations, dtype=np.intp)
    people = np.array([worker.technician for worker in siteday.workers], dtype=np.intp)
    table = np.zeros((len(combos), DAY + 1), dtype=np.int16)
    for k, (feature, skill, minutes) in enumerate(combos):
        able = problem.needs.station_ok[feature, stations]
        can = problem.needs.technician_ok[skill, people]
        if able.any() and can.any():
            run = np.minimum(
                siteday.station_run[able].max(axis=0), siteday.worker_run[can].max(axis=0)
            )
            table[k, 1:] = np.cumsum(run[:DAY] >= minutes)
    return table


def _priced(problem: Problem, table: Ints) -> Options:
    """Cost each row of (request, siteday, part, profile, travel, day, skill) and sort them."""
    network, cost = problem.network, problem.network.policy.cost
    requests = network.requests
    unbooked = unbooked_costs(problem)
    charge = place_costs(problem, table[:, 0], table[:, 5], table[:, 4])
    stay = np.zeros(len(table), dtype=np.bool_)
    if problem.movable_of:
        table, charge, stay = _with_stays(problem, table, charge)
        for r in problem.movable_of:
            unbooked[r] += cost.move
    cheapest = np.full(len(requests), np.inf)
    np.minimum.at(cheapest, table[:, 0], charge)
    worth = charge < unbooked[table[:, 0]]
    table, charge, stay = table[worth], charge[worth], stay[worth]
    order = np.lexsort((~stay, table[:, 2], table[:, 1], charge, table[:, 0]))
    care = care_table(problem)
    table = np.concatenate([table[order], care[:, :7]])
    charge = np.concatenate([charge[order], np.zeros(len(care))])
    stay = np.concatenate([stay[order], np.zeros(len(care), dtype=np.bool_)])
    minutes = problem.lengths[table[:, 3]]
    minutes[len(order) :] = care[:, 7]
    jobs = len(requests) + len(network.care)
    return Options(
        first=np.searchsorted(table[:, 0], np.arange(jobs + 1)).astype(np.int64),
        request=table[:, 0].copy(),
        siteday=table[:, 1].copy(),
        part=table[:, 2].astype(np.int8),
        profile=table[:, 3].copy(),
        minutes=minutes,
        cost=charge,
        stay=stay,
        skill=table[:, 6].copy(),
        unbooked=np.concatenate([unbooked, np.full(len(network.care), CARE_LEFT_OUT)]),
        cheapest=cheapest,
    )


def unbooked_costs(problem: Problem) -> Floats:
    """The cost of leaving each request out, without a move; 0 where its appointment is fixed."""
    requests = problem.network.requests
    usual = problem.network.policy.cost.unbooked
    costs = np.array(
        [item.weight * (usual if item.unbooked is None else item.unbooked) for item in requests],
        dtype=np.float64,
    )
    for r in problem.fixed_of:
        costs[r] = 0.0
    return costs


def place_costs(problem: Problem, request: Ints, day: Ints, travel: Ints) -> Floats:
    """What the objective charges for serving requests on days, without a move."""
    requests, cost = problem.network.requests, problem.network.policy.cost
    weight = np.array([item.weight for item in requests], dtype=np.float64)[request]
    release = np.array([item.release for item in requests], dtype=np.float64)[request]
    due = np.array([item.due for item in requests], dtype=np.float64)[request]
    late = cost.late_day * np.maximum(0, day - due)
    charge: Floats = weight * (late + cost.wait_day * (day - release))
    return charge + cost.travel_minute * travel


def care_table(problem: Problem) -> Ints:
    """Where care can be placed: (job, siteday, part, -1, 0, day, -1, minutes) a row."""
    network, rows = problem.network, []
    for c, care in enumerate(network.care):
        station = problem.index.station[care.station]
        site = problem.index.site[network.stations[station].site]
        for day in range(max(0, care.earliest), min(network.days - 1, care.latest) + 1):
            g = problem.at.get((site, day))
            if g is not None:
                starts = care_starts(problem.sitedays[g], station, care.minutes, care.technician)
                for part, some in enumerate((starts[:NOON].any(), starts[NOON:].any())):
                    if some:
                        rows.append((len(network.requests) + c, g, part, -1, 0, day, -1,
                                     care.minutes))  # fmt: skip
    return np.array(rows, dtype=np.int32).reshape(-1, 8)


def care_starts(
    siteday: SiteDay, station: int, minutes: int, technician: bool
) -> NDArray[np.bool_]:
    """The minutes of a day at which care of a station could start, if nothing else were planned."""
    run = siteday.station_run[siteday.stations.index(station), :DAY]
    if technician:
        if not siteday.workers:
            return np.zeros(DAY, dtype=np.bool_)
        run = np.minimum(run, siteday.worker_run.max(axis=0)[:DAY])
    starts: NDArray[np.bool_] = run >= minutes
    return starts


def _with_stays(
    problem: Problem, table: Ints, charge: Floats
) -> tuple[Ints, Floats, NDArray[np.bool_]]:
    """Charge moves, and add the place that each movable appointment has, free of that charge."""
    network, index = problem.network, problem.index
    moving = np.zeros(len(network.requests), dtype=np.bool_)
    home = np.full(len(network.requests), -1, dtype=np.int64)
    for r, item in problem.movable_of.items():
        moving[r] = True
        station = network.stations[index.station[item.station]]
        day, minute = divmod(item.start, DAY)
        g = problem.at.get((index.site[station.site], day), -1)
        if g >= 0:
            home[r] = g * 2 + (minute >= DAY // 2)
    request = table[:, 0]
    here = table[:, 1].astype(np.int64) * 2 + table[:, 2] == home[request]
    moved = charge + np.where(moving[request], network.policy.cost.move, 0.0)
    stays = np.zeros(len(table), dtype=np.bool_)
    return (
        np.concatenate([table, table[here]]),
        np.concatenate([moved, charge[here]]),
        np.concatenate([stays, np.ones(int(here.sum()), dtype=np.bool_)]),
    )
