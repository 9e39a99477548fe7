"""A site-day's demand as the arrays of the list schedule; one job more costs little to ask."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.demand import Demand, Job
from planner.engine.booking.timetable.standing import latest_break, settle_pins
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

SKILL_FIRST = 240.0
"""Minutes of urgency that a job gains by asking for a skill or a feature that not all have."""
SPARED = 3
"""A fixed appointment: no promise binds the run there, yet no job may make its subject wait."""
PLENTY = 1 << 20
"""Minutes that bookings may take where nothing is reserved."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of a site-day: arrays as `pack` takes them, and what they stand for.

    ``pins`` are the pinned blocks that can stand and those that cannot; ``plain`` the minutes that
    bookings may take which are not rework. The arrays of one that is kept are not written into.
    """

    siteday: SiteDay
    jobs: tuple[Job, ...]
    pins: tuple[tuple[Block, ...], tuple[Block, ...]]
    care: tuple[tuple[int, Block], ...]
    blocks: Ints
    breaks: Ints
    table: Ints
    windows: Ints
    keys: Floats
    plain: int


@dataclass(slots=True)
class Asking:
    """Makes the arrays; holds what all site-days share."""

    problem: Problem
    rework: NDArray[np.bool_] = field(init=False)
    _windows: dict[tuple[int, int, int], tuple[tuple[int, int], ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.rework = np.array([item.rework for item in self.problem.network.requests], dtype=bool)

    def ask(self, siteday: SiteDay, demand: Demand) -> Asked:
        """A demand as arrays."""
        table, windows = self._job_table(siteday, demand.jobs)
        pins = self._pins(siteday, demand)
        blocks = self._blocks(siteday, pins[0], demand)
        return Asked(
            siteday, demand.jobs, pins, demand.care, blocks, _breaks(siteday, blocks), table,
            windows, self._keys(siteday, table, windows), self.plain(siteday, demand, pins[0]),
        )  # fmt: skip

    def with_one(self, asked: Asked, job: Job, without: int | None = None) -> Asked:
        """The same with one job more, at the end, and without request ``without``.

        Neither of the two requests may be among the pinned; where the new one has a job already,
        that goes.
        """
        gone = (job.request, without)
        kept = [k for k, other in enumerate(asked.jobs) if other.request not in gone]
        row, spans = self._job_table(asked.siteday, (job,))
        key = self._keys(asked.siteday, row, spans)
        row[:, 4:6] += len(asked.windows)
        rows = asked.table if len(kept) == len(asked.jobs) else asked.table[kept]
        keys = asked.keys if len(kept) == len(asked.jobs) else asked.keys[kept]
        return replace(
            asked,
            jobs=(*(asked.jobs[k] for k in kept), job),
            table=np.concatenate([rows, row]),
            windows=np.concatenate([asked.windows, spans]),
            keys=np.concatenate([keys, key]),
        )

    def windows(self, request: int, day: int, minutes: int) -> tuple[tuple[int, int], ...]:
        """Starts (half-open, minutes past midnight) that a request's available times allow."""
        key = (request, day, minutes)
        found = self._windows.get(key)
        if found is None:
            base = day * DAY
            available = self.problem.network.requests[request].available
            spans = [(0, DAY)]
            if available:
                spans = [
                    (max(0, window.start - base), min(DAY, window.end - base))
                    for window in available
                    if window.start < base + DAY and window.end > base
                ]
            found = tuple((a, b - minutes + 1) for a, b in spans if b - a >= minutes)
            self._windows[key] = found
        return found

    def _job_table(self, siteday: SiteDay, jobs: Sequence[Job]) -> tuple[Ints, Ints]:
        """Jobs and their windows, as `pack` takes them."""
        needs, many = self.problem.needs, len(jobs)
        table = np.empty((many, 7), dtype=np.int32)
        windows: list[tuple[int, int]] = []
        request = np.fromiter((job.request for job in jobs), np.int64, many)
        table[:, 0] = np.fromiter((job.minutes for job in jobs), np.int32, many)
        table[:, 1] = np.fromiter((job.profile for job in jobs), np.int32, many)
        table[:, 2] = needs.feature_of[request]
        table[:, 3] = [needs.skill_of[job.request, job.profile] for job in jobs]
        table[:, 6] = ~self.rework[request] if siteday.reserve > 0 else 0
        cuts = [0]
        for job in jobs:
            windows += self.windows(job.request, siteday.day, job.minutes)
            cuts.append(len(windows))
        table[:, 4], table[:, 5] = cuts[:-1], cuts[1:]
        return table, np.array(windows, dtype=np.int32).reshape(-1, 2)

    def _keys(self, siteday: SiteDay, table: Ints, windows: Ints) -> Floats:
        """The latest start of each job, sooner where it asks for what not all have."""
        latest = np.zeros(len(table), dtype=np.int64)
        if len(windows):
            job = np.repeat(np.arange(len(table)), table[:, 5] - table[:, 4])
            np.maximum.at(latest, job, windows[:, 1] - 1)
        keys = np.minimum(latest, siteday.closes - table[:, 0]).astype(np.float64)
        asks = (table[:, 2] > 0).astype(np.float64) + (table[:, 3] > 0)
        found: Floats = keys - SKILL_FIRST * asks
        return found

    def _pins(
        self, siteday: SiteDay, demand: Demand
    ) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
        """Pinned blocks that can stand, and those that cannot, the reserve among the reasons."""
        if not demand.pinned:
            return (), ()
        requests = self.problem.network.requests
        rework = {block.request for block in demand.pinned if requests[block.request].rework}
        return settle_pins(siteday, demand, self.plain(siteday, demand, ()), rework)

    def plain(self, siteday: SiteDay, demand: Demand, pinned: Sequence[Block]) -> int:
        """Minutes that bookings which are not rework may take beside these pinned (rule 8)."""
        if not siteday.reserve:
            return PLENTY
        stations = int((siteday.station_run[:, :DAY] > 0).sum())
        is_open = np.zeros(DAY, dtype=np.bool_)
        for start, end in siteday.opens:
            is_open[start:end] = True
        workers = int((siteday.worker_run[:, :DAY] > 0)[:, is_open].sum())
        workers -= sum(worker.break_minutes for worker in siteday.workers)
        workers -= sum(
            int(is_open[block.start : block.start + block.minutes].sum())
            for block in siteday.fixed
            if block.request < 0
        )
        for _, block in demand.care:
            stations -= block.minutes
            workers -= block.minutes if block.worker >= 0 else 0
        requests = self.problem.network.requests
        used = sum(
            block.minutes
            for block in (*siteday.fixed, *pinned)
            if block.request >= 0 and not requests[block.request].rework
        )
        return max(0, min(stations, workers) - siteday.reserve - used)

    def _blocks(self, siteday: SiteDay, pinned: tuple[Block, ...], demand: Demand) -> Ints:
        grain = self.problem.network.grain
        rows = []
        for block in siteday.closed + siteday.fixed + pinned + tuple(b for _, b in demand.care):
            own = told(block.start, grain) if block.request >= 0 else block.start
            promised = 1 if block in pinned else SPARED if block.request >= 0 else 0
            rows.append((block.start, block.minutes, block.station, block.worker,
                         block.profile, own, promised))  # fmt: skip
        rows.sort()
        return np.array(rows, dtype=np.int32).reshape(-1, 7)


def _breaks(siteday: SiteDay, blocks: Ints) -> Ints:
    table = np.zeros((len(siteday.workers), 5), dtype=np.int32)
    for w, worker in enumerate(siteday.workers):
        table[w, 4] = worker.end
        if worker.break_minutes:
            latest = latest_break(worker, blocks[blocks[:, 3] == w])
            table[w, :4] = (worker.break_minutes, worker.break_start, latest, latest)
    return table
