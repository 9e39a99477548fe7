"""Scanner care on a day: the earliest time that harms neither fixed appointments nor breaks."""

from __future__ import annotations

import numpy as np

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.standing import latest_break
from planner.engine.units import DAY


def fit_care(problem: Problem, siteday: SiteDay, care: int, standing: list[Block]) -> Block | None:
    """A time for one care beside what stands on the day, or None.

    The first minute of the day that fits is taken: a platen is cleaned and calibrated before
    people come (common practice, no source). Of the workers who could do it, the one with the
    fewest skills is asked.
    """
    item = problem.network.care[care]
    station = siteday.stations.index(problem.index.station[item.station])
    run = siteday.station_run[station, :DAY].copy()
    _cut(run, [b for b in standing if b.station == station])
    if not item.technician:
        starts = np.flatnonzero(run >= item.minutes)
        return Block(int(starts[0]), item.minutes, station, -1) if len(starts) else None
    best: Block | None = None
    for w in _by_skill(problem, siteday):
        worker = siteday.workers[w]
        mine = [b for b in standing if b.worker == w]
        both = siteday.worker_run[w, :DAY].copy()
        _cut(both, mine)
        for start in np.flatnonzero(np.minimum(run, both) >= item.minutes):
            if best is not None and start >= best.start:
                break
            block = Block(int(start), item.minutes, station, w)
            if not worker.break_minutes or _break_stays(siteday, w, [*mine, block]):
                best = block
                break
    return best


def _cut(run: np.ndarray[tuple[int], np.dtype[np.int32]], blocks: list[Block]) -> None:
    """Shorten runs so that none reaches into a block."""
    for block in blocks:
        before = np.arange(block.start)
        run[: block.start] = np.minimum(run[: block.start], block.start - before)
        run[block.start : block.start + block.minutes] = 0


def _by_skill(problem: Problem, siteday: SiteDay) -> list[int]:
    people = problem.network.technicians
    places = range(len(siteday.workers))
    return sorted(places, key=lambda w: (len(people[siteday.workers[w].technician].skills), w))


def _break_stays(siteday: SiteDay, w: int, blocks: list[Block]) -> bool:
    rows = np.array([(b.start, b.minutes) for b in blocks], dtype=np.int32).reshape(-1, 2)
    return latest_break(siteday.workers[w], rows) >= 0
