"""A site-day's timetable: what is asked, what comes out, and the call of the list schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.breaks import latest_free
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay, Worker
from planner.engine.booking.timetable.pack import GAP, pack
from planner.engine.network import Shift
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]

SKILL_FIRST = 240.0
"""Minutes of urgency that a job gains by asking for a skill or a feature that not all have."""


@dataclass(frozen=True, slots=True)
class Job:
    """A request to be placed on a site-day: its planned minutes and profile there."""

    request: int
    profile: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Demand:
    """What one site-day is asked to hold.

    ``pinned`` are movable appointments that stay where they are and care that has its time;
    care has profile and request -1 and ``care`` as its place in the network's list.
    """

    jobs: tuple[Job, ...]
    pinned: tuple[Block, ...] = ()
    care: tuple[tuple[int, Block], ...] = ()


@dataclass(frozen=True, slots=True)
class Slot:
    """A job in its place: minutes past midnight, places of station and worker in the site-day."""

    job: Job
    start: int
    station: int
    worker: int


@dataclass(frozen=True, slots=True)
class Timetable:
    """A site-day's timetable. ``rests`` has each worker's break start, -1 where there is none."""

    siteday: int
    slots: tuple[Slot, ...] = ()
    left: tuple[Job, ...] = ()
    rests: tuple[int, ...] = ()
    pinned: tuple[Block, ...] = ()
    unpinned: tuple[Block, ...] = ()
    care: tuple[tuple[int, Block], ...] = ()
    sound: bool = True


@dataclass(slots=True)
class Packer:
    """Packs site-days by list scheduling; holds what all calls share."""

    problem: Problem
    pool: NDArray[np.float32]
    guard: float
    seed: int
    rules: Ints = field(init=False)
    _windows: dict[tuple[int, int, int], tuple[tuple[int, int], ...]] = field(init=False)

    def __post_init__(self) -> None:
        policy = self.problem.network.policy
        draws = self.pool.shape[2]
        self._windows = {}
        self.rules = np.array(
            [
                policy.wait_minutes,
                _allowed(policy.wait_risk, draws, self.guard),
                policy.overtime_minutes,
                _allowed(policy.overtime_risk, draws, self.guard),
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
        self, siteday: SiteDay, demand: Demand, rng: np.random.Generator | None = None,
        noise: float = 0.0,
    ) -> Timetable:  # fmt: skip
        """List-schedule a demand; ``noise`` (minutes) shuffles the order of urgency."""
        table, windows = self._job_table(siteday, demand.jobs)
        keys = self._keys(siteday, demand.jobs, table, windows)
        pinned, unpinned = settle_pins(siteday, demand)
        blocks = self._blocks(siteday, pinned, demand)
        breaks = self._breaks(siteday, blocks)
        if rng is not None and noise > 0:
            keys += rng.normal(0.0, noise, len(keys))
            early = rng.integers(0, np.maximum(1, breaks[:, 2] - breaks[:, 1] + 1))
            breaks[:, 3] = breaks[:, 2] - early
        able = (self._station_ok(siteday), self._worker_ok(siteday))
        return self._run(siteday, demand, (pinned, unpinned), blocks, breaks,
                         table, windows, keys, able, GAP)  # fmt: skip

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
        pinned, unpinned = settle_pins(siteday, demand)
        blocks = self._blocks(siteday, pinned, demand)
        breaks = self._breaks(siteday, blocks)
        for worker, start in rests.items():
            breaks[worker, 3] = min(start, breaks[worker, 2])
        able = (
            np.eye(len(siteday.stations), dtype=np.bool_),
            np.eye(len(siteday.workers), dtype=np.bool_),
        )
        found = self._run(siteday, chosen, (pinned, unpinned), blocks, breaks,
                          table, windows, keys, able, 0)  # fmt: skip
        tried = {job.request for job in jobs}
        missing = tuple(job for job in demand.jobs if job.request not in tried)
        return replace(found, left=found.left + missing)

    def _run(
        self, siteday: SiteDay, demand: Demand, pins: tuple[tuple[Block, ...], tuple[Block, ...]],
        blocks: Ints, breaks: Ints, table: Ints, windows: Ints, keys: NDArray[np.float64],
        able: tuple[NDArray[np.bool_], NDArray[np.bool_]], gap: int,
    ) -> Timetable:  # fmt: skip
        jobs = demand.jobs
        rules = self.rules.copy()
        rules[4] = siteday.closes
        rules[6] = self.plain_minutes(siteday, breaks, demand)
        rules[7] = gap
        placed = np.empty((len(jobs), 3), dtype=np.int32)
        rests = np.empty(len(siteday.workers), dtype=np.int32)
        count = pack(
            siteday.station_run, siteday.worker_run, *able, blocks, table, windows, keys, breaks,
            self.pool, rules, placed, rests,
        )  # fmt: skip
        slots = tuple(
            Slot(job, int(row[0]), int(row[1]), int(row[2]))
            for job, row in zip(jobs, placed, strict=True)
            if row[0] >= 0
        )
        left = tuple(job for job, row in zip(jobs, placed, strict=True) if row[0] < 0)
        return Timetable(
            siteday.index, slots, left, tuple(int(r) for r in rests), *pins, demand.care,
            count >= 0 and not (blocks[:, 6] == 2).any(),
        )  # fmt: skip

    def plain_room(self, siteday: SiteDay, demand: Demand) -> int:
        """Minutes that bookings which are not rework may take beside a demand's blocks."""
        pinned, _ = settle_pins(siteday, demand)
        breaks = self._breaks(siteday, self._blocks(siteday, pinned, demand))
        return self.plain_minutes(siteday, breaks, demand)

    def plain_minutes(self, siteday: SiteDay, breaks: Ints, demand: Demand) -> int:
        """Minutes that bookings which are not rework may still take (rule 8)."""
        if not siteday.reserve:
            return 1 << 20
        stations = int((siteday.station_run[:, :DAY] > 0).sum())
        is_open = np.zeros(DAY, dtype=np.bool_)
        for start, end in siteday.opens:
            is_open[start:end] = True
        workers = int((siteday.worker_run[:, :DAY] > 0)[:, is_open].sum())
        workers -= int(breaks[:, 0].sum())
        for _, block in demand.care:
            stations -= block.minutes
            workers -= block.minutes if block.worker >= 0 else 0
        requests = self.problem.network.requests
        used = sum(
            block.minutes
            for block in siteday.fixed + demand.pinned
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

    def _keys(
        self, siteday: SiteDay, jobs: tuple[Job, ...], table: Ints, windows: Ints
    ) -> NDArray[np.float64]:
        keys = np.empty(len(jobs))
        for k in range(len(jobs)):
            minutes, _, feature, skill, low, high, _ = table[k]
            latest = windows[low:high, 1].max() - 1 if high > low else 0
            keys[k] = min(latest, siteday.closes - minutes)
            keys[k] -= SKILL_FIRST * ((feature > 0) + (skill > 0))
        return keys

    def _station_ok(self, siteday: SiteDay) -> NDArray[np.bool_]:
        stations = np.array(siteday.stations, dtype=np.intp)
        return np.ascontiguousarray(self.problem.needs.station_ok[:, stations])

    def _worker_ok(self, siteday: SiteDay) -> NDArray[np.bool_]:
        people = np.array([worker.technician for worker in siteday.workers], dtype=np.intp)
        return np.ascontiguousarray(self.problem.needs.technician_ok[:, people])

    def _blocks(self, siteday: SiteDay, pinned: tuple[Block, ...], demand: Demand) -> Ints:
        grain = self.problem.network.grain
        rows = []
        for block in siteday.closed + siteday.fixed + pinned + tuple(b for _, b in demand.care):
            own = told(block.start, grain) if block.request >= 0 else block.start
            promised = int(block in pinned)
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


def latest_break(worker: Worker, blocks: Ints) -> int:
    """The latest start of a worker's break among blocks of theirs; -1 where there is none."""
    busy = [(int(row[0]), int(row[0] + row[1])) for row in blocks]
    shift = Shift(
        "", worker.start, worker.end, worker.break_minutes, worker.break_start, worker.break_end
    )
    latest = latest_free(shift, busy)
    return -1 if latest is None else latest


def _allowed(risk: float, draws: int, guard: float) -> int:
    """Draws that may break a promise: the risk less ``guard`` standard errors of its estimate."""
    if risk >= 1:
        return draws
    error = (risk * (1 - risk) / draws) ** 0.5
    return max(0, int((risk - guard * error) * draws))


def settle_pins(siteday: SiteDay, demand: Demand) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """Pinned blocks that can stand beside what is fixed, in order, and those that cannot."""
    taken = list(siteday.fixed) + [block for _, block in demand.care]
    keep: list[Block] = []
    drop: list[Block] = []
    for block in sorted(demand.pinned, key=lambda item: (item.start, item.station)):
        clash = any(
            block.start < other.start + other.minutes
            and other.start < block.start + block.minutes
            and (block.station == other.station or block.worker == other.worker)
            for other in taken
        )
        worker = siteday.workers[block.worker]
        if not clash and worker.break_minutes:
            mine = [b for b in [*taken, block] if b.worker == block.worker]
            rows = np.array([(b.start, b.minutes) for b in mine], dtype=np.int32).reshape(-1, 2)
            clash = latest_break(worker, rows) < 0
        (drop if clash else keep).append(block)
        if not clash:
            taken.append(block)
    return tuple(keep), tuple(drop)
