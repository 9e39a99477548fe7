"""Scanner care on a day: the time that costs the least room and harms nothing that stands."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.standing import latest_break
from planner.engine.units import DAY

Ints = NDArray[np.int64]


def fit_care(problem: Problem, siteday: SiteDay, care: int, standing: list[Block]) -> Block | None:
    """A time for one care beside what stands on the day, or None.

    Care that needs a technician takes one with a station wherever it lies: the first minute of the
    day that fits is taken, since a platen is cleaned and calibrated before people come (common
    practice, no source); of the workers who could do it, the one with the fewest skills is asked.
    Care that needs nobody goes where it costs the fewest pairs of a station and a worker: outside
    shifts, where stations are to spare, or while somebody has their break.
    """
    item = problem.network.care[care]
    station = siteday.stations.index(problem.index.station[item.station])
    run = siteday.station_run[station, :DAY].copy()
    _cut(run, [b for b in standing if b.station == station])
    if not item.technician:
        starts = np.flatnonzero(run >= item.minutes)
        if not len(starts):
            return None
        lost = _lost_pairs(siteday, standing, item.minutes)[starts]
        return Block(int(starts[int(np.argmin(lost))]), item.minutes, station, -1)
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


def _lost_pairs(siteday: SiteDay, standing: list[Block], minutes: int) -> Ints:
    """How many pairs of a station and a worker each start of a care costs; shape (1440,).

    A pair is lost in a minute in which free stations are no more than free workers. Somebody's
    break hides as many minutes as lie in its window, once for each break: another care that
    stands in a window may have used it up.
    """
    stations = (siteday.station_run[:, :DAY] > 0).sum(axis=0)
    workers = (siteday.worker_run[:, :DAY] > 0).sum(axis=0)
    for block in standing:
        span = slice(block.start, block.start + block.minutes)
        stations[span] -= block.station >= 0
        workers[span] -= block.worker >= 0
    short = (stations <= workers) & (workers > 0)
    upto = np.concatenate([[0], np.cumsum(np.append(short, np.zeros(minutes, dtype=np.bool_)))])
    lost = upto[minutes : minutes + DAY] - upto[:DAY]
    hidden = np.zeros(DAY, dtype=np.int64)
    beside = [block for block in standing if block.station >= 0 and block.worker < 0]
    for worker in siteday.workers:
        low, high = worker.break_start, worker.break_end
        used = next((b for b in beside if low < b.start + b.minutes and b.start < high), None)
        if used is not None:
            beside.remove(used)
        elif worker.break_minutes:
            start = np.arange(DAY)
            inside = np.minimum(start + minutes, high) - np.maximum(start, low)
            hidden = np.maximum(hidden, np.clip(inside, 0, worker.break_minutes))
    found: Ints = np.maximum(lost - hidden, 0)
    return found


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
