"""A site-day's timetable: what is asked, what comes out, and the call of the list schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.demand import Demand, Job, Slot, Timetable
from planner.engine.booking.timetable.pack import GAP
from planner.engine.booking.timetable.standing import allowed, latest_break, settle_pins
from planner.engine.booking.timetable.trials import pack_trials
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]

NOISE = 25.0
"""Minutes by which a trial shuffles the urgencies."""
SKILL_FIRST = 240.0
"""Minutes of urgency that a job gains by asking for a skill or a feature that not all have."""
SPARED = 3
"""A fixed appointment: no promise binds the run there, yet no job may make its subject wait."""


@dataclass(slots=True)
class Packer:
    """Packs site-days by list scheduling; holds what all calls share."""

    problem: Problem
    pool: NDArray[np.float32]
    guard: float
    seed: int
    rules: Ints = field(init=False)
    _windows: dict[tuple[int, int, int], tuple[tuple[int, int], ...]] = field(init=False)
    _ables: dict[int, tuple[NDArray[np.bool_], NDArray[np.bool_]]] = field(init=False)

    def __post_init__(self) -> None:
        policy = self.problem.network.policy
        draws = self.pool.shape[2]
        self._windows = {}
        self._ables = {}
        self.rules = np.array(
            [
                policy.wait_minutes,
                allowed(policy.wait_risk, draws, self.guard),
                policy.overtime_minutes,
                allowed(policy.overtime_risk, draws, self.guard),
                0,
                self.problem.network.grain,
                0,
                0,
            ],
            dtype=np.int32,
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

    def pack(
        self, siteday: SiteDay, demand: Demand, *, trials: int = 1, seed: int = 0,
        worth: Sequence[float] | None = None,
    ) -> Timetable:  # fmt: skip
        """List-schedule a demand in up to ``trials`` orders of urgency, the plain one first.

        ``worth`` says what each job is worth (all alike where it is not given); the schedule that
        places most of it is kept.
        """
        table, windows = self._job_table(siteday, demand.jobs)
        keys = self._keys(siteday, table, windows)
        pinned, unpinned = self._pins(siteday, demand)
        blocks = self._blocks(siteday, pinned, demand)
        breaks = self._breaks(siteday, blocks)
        values = np.ones(len(demand.jobs)) if worth is None else np.array(worth, dtype=np.float64)
        return self._run(siteday, demand, (pinned, unpinned), blocks, breaks, table, windows, keys,
                         self._able(siteday), GAP, values, trials, seed)  # fmt: skip

    def pack_in_order(
        self, siteday: SiteDay, demand: Demand, slots: Sequence[Slot], rests: Mapping[int, int],
        floors: Mapping[int, int] | None = None,
    ) -> Timetable:  # fmt: skip
        """Pack jobs in a given order, each with the station and worker it has there.

        ``floors`` maps a request to the first minute at which it, and whoever follows it with the
        same worker, may start. ``slots`` are by start.
        Starts move later where a promise asks for it; what then no longer fits is left, as are
        the demand's jobs that have no slot.
        """
        jobs = tuple(slot.job for slot in slots)
        chosen = Demand(jobs, demand.pinned, demand.care)
        table, windows = self._job_table(siteday, jobs)
        keys = np.array([slot.start for slot in slots], dtype=np.float64)
        floor = np.zeros(len(siteday.workers), dtype=np.int32)
        for k, slot in enumerate(slots):
            table[k, 2:4] = slot.station, slot.worker
            mine = (floors or {}).get(slot.job.request, 0)
            floor[slot.worker] = max(floor[slot.worker], mine)
            span = windows[table[k, 4] : table[k, 5]]
            span[:, 0] = np.maximum(span[:, 0], floor[slot.worker])
        pinned, unpinned = self._pins(siteday, demand)
        blocks = self._blocks(siteday, pinned, demand)
        breaks = self._breaks(siteday, blocks)
        for worker, start in rests.items():
            breaks[worker, 3] = min(start, breaks[worker, 2])
        able = (
            np.eye(len(siteday.stations), dtype=np.bool_),
            np.eye(len(siteday.workers), dtype=np.bool_),
        )
        found = self._run(siteday, chosen, (pinned, unpinned), blocks, breaks, table, windows, keys,
                          able, 0, np.ones(len(jobs)), 1, 0)  # fmt: skip
        tried = {job.request for job in jobs}
        missing = tuple(job for job in demand.jobs if job.request not in tried)
        return replace(found, left=found.left + missing)

    def _run(
        self, siteday: SiteDay, demand: Demand, pins: tuple[tuple[Block, ...], tuple[Block, ...]],
        blocks: Ints, breaks: Ints, table: Ints, windows: Ints, keys: NDArray[np.float64],
        able: tuple[NDArray[np.bool_], NDArray[np.bool_]], gap: int,
        worth: NDArray[np.float64], trials: int, seed: int,
    ) -> Timetable:  # fmt: skip
        jobs = demand.jobs
        rules = self.rules.copy()
        rules[4] = siteday.closes
        rules[6] = self.plain_room(siteday, demand, pins[0])
        rules[7] = gap
        placed = np.empty((len(jobs), 3), dtype=np.int32)
        rests = np.empty(len(siteday.workers), dtype=np.int32)
        sound = pack_trials(
            siteday.station_run, siteday.worker_run, *able, blocks, table, windows, keys, breaks,
            self.pool, rules, worth, max(1, trials), NOISE, seed, placed, rests,
        )  # fmt: skip
        rows = placed.tolist()
        slots = tuple(Slot(job, *row) for job, row in zip(jobs, rows, strict=True) if row[0] >= 0)
        left = tuple(job for job, row in zip(jobs, rows, strict=True) if row[0] < 0)
        return Timetable(
            siteday.index, slots, left, tuple(rests.tolist()), *pins, demand.care, sound == 1
        )

    def _pins(
        self, siteday: SiteDay, demand: Demand
    ) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
        """Pinned blocks that can stand, and those that cannot, the reserve among the reasons."""
        requests = self.problem.network.requests
        rework = {block.request for block in demand.pinned if requests[block.request].rework}
        return settle_pins(siteday, demand, self.plain_room(siteday, demand, ()), rework)

    def plain_room(self, siteday: SiteDay, demand: Demand, pinned: Sequence[Block]) -> int:
        """Minutes that bookings which are not rework may take beside these pinned (rule 8)."""
        if not siteday.reserve:
            return 1 << 20
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

    def _job_table(self, siteday: SiteDay, jobs: tuple[Job, ...]) -> tuple[Ints, Ints]:
        needs, requests = self.problem.needs, self.problem.network.requests
        table = np.empty((len(jobs), 7), dtype=np.int32)
        windows: list[tuple[int, int]] = []
        for k, job in enumerate(jobs):
            spans = self.windows(job.request, siteday.day, job.minutes)
            table[k] = (
                job.minutes, job.profile, needs.feature_of[job.request],
                needs.skill_of[job.request, job.profile], len(windows), len(windows) + len(spans),
                siteday.reserve > 0 and not requests[job.request].rework,
            )  # fmt: skip
            windows += spans
        return table, np.array(windows, dtype=np.int32).reshape(-1, 2)

    def _keys(self, siteday: SiteDay, table: Ints, windows: Ints) -> NDArray[np.float64]:
        """The latest start of each job, sooner where it asks for what not all have."""
        latest = np.zeros(len(table), dtype=np.int64)
        if len(windows):
            job = np.repeat(np.arange(len(table)), table[:, 5] - table[:, 4])
            np.maximum.at(latest, job, windows[:, 1] - 1)
        keys = np.minimum(latest, siteday.closes - table[:, 0]).astype(np.float64)
        asks = (table[:, 2] > 0).astype(np.float64) + (table[:, 3] > 0)
        found: NDArray[np.float64] = keys - SKILL_FIRST * asks
        return found

    def _able(self, siteday: SiteDay) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which stations meet which features, and which workers which skills."""
        found = self._ables.get(siteday.index)
        if found is None:
            stations = np.array(siteday.stations, dtype=np.intp)
            people = np.array([worker.technician for worker in siteday.workers], dtype=np.intp)
            needs = self.problem.needs
            found = (
                np.ascontiguousarray(needs.station_ok[:, stations]),
                np.ascontiguousarray(needs.technician_ok[:, people]),
            )
            self._ables[siteday.index] = found
        return found

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

    def _breaks(self, siteday: SiteDay, blocks: Ints) -> Ints:
        table = np.zeros((len(siteday.workers), 5), dtype=np.int32)
        for w, worker in enumerate(siteday.workers):
            table[w, 4] = worker.end
            if worker.break_minutes:
                latest = latest_break(worker, blocks[blocks[:, 3] == w])
                table[w, :4] = (worker.break_minutes, worker.break_start, latest, latest)
        return table
