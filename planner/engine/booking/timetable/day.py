"""A site-day's timetable: the call of the list schedule, and what comes out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import SiteDay
from planner.engine.booking.timetable.asked import Asked, Asking
from planner.engine.booking.timetable.demand import Demand, Slot, Timetable
from planner.engine.booking.timetable.pack import GAP
from planner.engine.booking.timetable.standing import allowed
from planner.engine.booking.timetable.trials import pack_trials

Ints = NDArray[np.int32]

NOISE = 75.0
"""Minutes of chance in an urgency that a trial draws anew."""


@dataclass(slots=True)
class Packer:
    """Packs site-days by list scheduling; holds what all calls share."""

    problem: Problem
    pool: NDArray[np.float32]
    guard: float
    seed: int
    rules: Ints = field(init=False)
    asking: Asking = field(init=False)
    _ables: dict[int, tuple[NDArray[np.bool_], NDArray[np.bool_]]] = field(init=False)
    _stricter: dict[float, Packer] = field(default_factory=dict)

    def __post_init__(self) -> None:
        policy = self.problem.network.policy
        draws = self.pool.shape[2]
        self.asking = Asking(self.problem)
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

    def stricter(self, more: float) -> Packer:
        """The same, but ``more`` standard errors further below the promises."""
        if not more:
            return self
        if more not in self._stricter:
            made = Packer(self.problem, self.pool, self.guard + more, self.seed)
            made.asking = self.asking
            self._stricter[more] = made
        return self._stricter[more]

    def pack(
        self, siteday: SiteDay, demand: Demand, *, trials: int = 1, seed: int = 0,
        worth: Sequence[float] | None = None,
    ) -> Timetable:  # fmt: skip
        """List-schedule a demand in up to ``trials`` orders of urgency, the plain one first.

        ``worth`` says what each job is worth (all alike where it is not given); the schedule that
        places most of it is kept.
        """
        asked = self.asking.ask(siteday, demand)
        values = np.ones(len(demand.jobs)) if worth is None else np.array(worth, dtype=np.float64)
        return _read(asked, *self._run(asked, self._able(siteday), GAP, values, trials, seed))

    def pack_whole(self, asked: Asked, *, trials: int, seed: int) -> Timetable | None:
        """List-schedule what is asked in up to ``trials`` orders; None where somebody is left."""
        if asked.pins[1]:
            return None
        values = asked.table[:, 0].astype(np.float64)
        found = self._run(asked, self._able(asked.siteday), GAP, values, trials, seed)
        if not found[2] or (found[0][:, 0] < 0).any():
            return None
        return _read(asked, *found)

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
        asked = self.asking.ask(siteday, Demand(jobs, demand.pinned, demand.care))
        table, breaks = asked.table, asked.breaks
        floor = np.zeros(len(siteday.workers), dtype=np.int32)
        for k, slot in enumerate(slots):
            table[k, 2:4] = slot.station, slot.worker
            mine = (floors or {}).get(slot.job.request, 0)
            floor[slot.worker] = max(floor[slot.worker], mine)
            span = asked.windows[table[k, 4] : table[k, 5]]
            span[:, 0] = np.maximum(span[:, 0], floor[slot.worker])
        for worker, start in rests.items():
            breaks[worker, 3] = min(start, breaks[worker, 2])
        able = (
            np.eye(len(siteday.stations), dtype=np.bool_),
            np.eye(len(siteday.workers), dtype=np.bool_),
        )
        asked = replace(asked, keys=np.array([slot.start for slot in slots], dtype=np.float64))
        found = _read(asked, *self._run(asked, able, 0, np.ones(len(jobs)), 1, 0))
        tried = {job.request for job in jobs}
        missing = tuple(job for job in demand.jobs if job.request not in tried)
        return replace(found, left=found.left + missing)

    def _run(
        self, asked: Asked, able: tuple[NDArray[np.bool_], NDArray[np.bool_]], gap: int,
        worth: NDArray[np.float64], trials: int, seed: int,
    ) -> tuple[Ints, Ints, bool]:  # fmt: skip
        """Where each job was placed, each worker's break, and whether the schedule is sound."""
        siteday = asked.siteday
        rules = self.rules.copy()
        rules[4], rules[6], rules[7] = siteday.closes, asked.plain, gap
        placed = np.empty((len(asked.jobs), 3), dtype=np.int32)
        rests = np.empty(len(siteday.workers), dtype=np.int32)
        sound = pack_trials(
            siteday.station_run, siteday.worker_run, *able, asked.blocks, asked.table,
            asked.windows, asked.keys, asked.breaks, self.pool, rules, worth, max(1, trials), NOISE,
            seed, placed, rests,
        )  # fmt: skip
        return placed, rests, sound == 1

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


def _read(asked: Asked, placed: Ints, rests: Ints, sound: bool) -> Timetable:
    """The arrays of a list schedule as a timetable."""
    rows = list(zip(asked.jobs, placed.tolist(), strict=True))
    slots = tuple(Slot(job, *row) for job, row in rows if row[0] >= 0)
    left = tuple(job for job, row in rows if row[0] < 0)
    return Timetable(
        asked.siteday.index, slots, left, tuple(rests.tolist()), *asked.pins, asked.care, sound
    )
