"""Capacity rows: what a site-day, or a part of it, can hold at most (MODEL.md, rows 2 to 5).

Every row is a relaxation of rules 1 to 8: it never refuses what a plan could do.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.breaks import least_overlap
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import SiteDay
from planner.engine.network import Shift
from planner.engine.units import DAY, NOON

PARTS = ("am", "pm", "day")
SPANS = ((0, NOON), (NOON, DAY), (0, DAY))

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Row:
    """One capacity row.

    ``kind`` is ``station``, ``technician``, ``joint`` or ``reserve``; ``need`` the class of
    features or skills that it is for (0: everyone's minutes); ``part`` indexes `PARTS`;
    ``minutes`` the cap. A ``joint`` row holds pairs of a station and a technician, minute by
    minute; ``stations`` is the share of its minutes in which stations are the scarcer of the two.
    """

    siteday: int
    kind: str
    need: int
    part: int
    minutes: float
    stations: float = 0.0


@dataclass(frozen=True, slots=True)
class Free:
    """Minutes that a site-day's stations and workers have: masks of shape (things, 1440)."""

    stations: Bools
    workers: Bools
    straddle: tuple[int, int]


def free_minutes(siteday: SiteDay) -> Free:
    """Which minutes are free of closures and fixed appointments."""
    stations = siteday.station_run[:, :DAY] > 0
    is_open = np.zeros(DAY, dtype=np.bool_)
    for start, end in siteday.opens:
        is_open[start:end] = True
    workers = (siteday.worker_run[:, :DAY] > 0) & is_open
    for block in siteday.fixed:
        if block.request >= 0:
            stations[block.station, block.start : block.start + block.minutes] = False
            workers[block.worker, block.start : block.start + block.minutes] = False
    touching = any(start == NOON for start, _ in siteday.opens)
    across = (0, 0)
    if not touching:
        across = (
            int((stations[:, NOON - 1] & stations[:, NOON]).sum()),
            int((workers[:, NOON - 1] & workers[:, NOON]).sum()),
        )
    return Free(stations, workers, across)


def break_minutes(problem: Problem, siteday: SiteDay, part: int) -> NDArray[np.float64]:
    """Per worker, the fewest open minutes of a part of the day that the break must take."""
    low, high = SPANS[part]
    taken = np.zeros(len(siteday.workers))
    for k, worker in enumerate(siteday.workers):
        if worker.break_minutes:
            region = [
                (max(low, start, worker.start), min(high, end, worker.end))
                for start, end in siteday.opens
            ]
            shift = Shift(
                "", worker.start, worker.end,
                worker.break_minutes, worker.break_start, worker.break_end,
            )  # fmt: skip
            taken[k] = least_overlap(shift, [(a, b) for a, b in region if a < b])
    return taken


def siteday_rows(
    problem: Problem,
    siteday: SiteDay,
    feature_classes: list[int],
    skill_classes: list[int],
    longest: int,
) -> list[Row]:
    """The rows of one site-day for the classes that somebody there may ask for.

    ``longest`` is the longest session (minutes) that may straddle noon: a start before noon may
    end after it, once for each station and worker that is free on both sides.
    """
    free = free_minutes(siteday)
    spill = min(free.straddle) * (longest - 1)
    breaks = [break_minutes(problem, siteday, part) for part in range(3)]
    stations = np.array(siteday.stations, dtype=np.intp)
    people = np.array([worker.technician for worker in siteday.workers], dtype=np.intp)
    rows = []
    for part, (low, high) in enumerate(SPANS):
        more = spill if part == 0 else 0
        minutes = free.stations[:, low:high].sum(axis=1)
        for need in feature_classes:
            able = problem.needs.station_ok[need, stations]
            if need == 0 or not able.all():
                cap = float(minutes[able].sum()) + more
                rows.append(Row(siteday.index, "station", need, part, cap))
        minutes = np.maximum(free.workers[:, low:high].sum(axis=1) - breaks[part], 0)
        for need in skill_classes:
            able = problem.needs.technician_ok[need, people]
            if need == 0 or not able.all():
                cap = float(minutes[able].sum()) + more
                rows.append(Row(siteday.index, "technician", need, part, cap))
        rows.append(joint_row(siteday, free, part, more))
    return rows + reserve_rows(problem, siteday, free, breaks[2])


def joint_row(siteday: SiteDay, free: Free, part: int, more: float) -> Row:
    """The pairs of a free station and a free worker, minute by minute, as one row.

    A session takes a station and a worker at once, so in a minute no more sessions run than the
    fewer of the two. A break takes one of the pairs wherever it is placed if workers are not more
    than stations throughout its window (and the window is open and within the part).
    """
    low, high = SPANS[part]
    stations = free.stations[:, low:high].sum(axis=0)
    workers = free.workers[:, low:high].sum(axis=0)
    pairs = float(np.minimum(stations, workers).sum())
    for k, worker in enumerate(siteday.workers):
        start, end = worker.break_start, worker.break_end
        if (
            worker.break_minutes
            and low <= start
            and end <= high
            and free.workers[k, start:end].all()
        ):
            window = slice(start - low, end - low)
            if (stations[window] >= workers[window]).all():
                pairs -= worker.break_minutes
    staffed = workers > 0
    share = float((stations < workers)[staffed].mean()) if staffed.any() else 0.0
    return Row(siteday.index, "joint", 0, part, pairs + more, share)


def reserve_rows(
    problem: Problem, siteday: SiteDay, free: Free, breaks: NDArray[np.float64]
) -> list[Row]:
    """Rule 8 as two rows (the smaller of two rooms): what is not rework, less the reserve.

    Fixed appointments that are not rework count against it; where they alone exceed it the cap
    is 0. Row ``need`` is 0 for the stations' room and 1 for the technicians'.
    """
    if not siteday.reserve:
        return []
    rooms = (
        float((siteday.station_run[:, :DAY] > 0).sum()),
        float(free.workers.sum() - breaks.sum()) + _fixed_on_workers(siteday),
    )
    used = fixed_plain_minutes(problem, siteday)
    return [
        Row(siteday.index, "reserve", k, 2, max(0.0, room - siteday.reserve - used))
        for k, room in enumerate(rooms)
    ]


def fixed_plain_minutes(problem: Problem, siteday: SiteDay) -> int:
    """Minutes of the site-day's fixed appointments that are not rework."""
    return sum(
        block.minutes
        for block in siteday.fixed
        if block.request >= 0 and not problem.network.requests[block.request].rework
    )


def _fixed_on_workers(siteday: SiteDay) -> int:
    return sum(block.minutes for block in siteday.fixed if block.request >= 0)
