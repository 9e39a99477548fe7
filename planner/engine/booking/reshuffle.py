"""Site-days packed anew with more people than they hold: those who gain most there stay.

A large-neighbourhood step on one site-day: its residents, and others who would cost less there, are
offered to many list schedules at once; the one of most worth is kept, and whoever falls out
goes to the next cheapest place. Kept only where the guide's cost falls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.moves import TRIALS as FEW
from planner.engine.booking.moves import Mover
from planner.engine.booking.pushback import cost_of, find
from planner.engine.booking.tasks import Crew, Task
from planner.engine.booking.timetable.demand import Demand, Timetable
from planner.engine.rng import stream

TRIALS = 24
"""Orders in which a site-day is packed at first, `MOST` times as many at last."""
MOST = 8
GUESTS = 0.25
"""Guests offered to a site-day, as a share of its residents."""
BATCH = 8
"""Site-days packed at a time; fixed, so that the number of workers changes only the time."""
LEAST = 1e-6
"""What a job is worth at least, so that none is left out for nothing."""


@dataclass(frozen=True, slots=True)
class Batch:
    """Site-days that are being packed: with whom, in which state they were, and what comes out."""

    tasks: list[Task]
    guests: dict[int, list[int]]
    versions: dict[int, int]
    found: Iterator[Timetable]


@dataclass(slots=True)
class Reshuffle:
    """Sweeps over site-days; ``gain`` of a sweep is how much the guide's cost fell.

    ``stricter`` as in `Task`.
    """

    mover: Mover
    crew: Crew
    by_day: list[NDArray[np.int64]]
    sweeps: int = 0
    trials: int = TRIALS
    stricter: float = 0.0

    def sweep(self, stop: Callable[[], bool]) -> float:
        """Take every site-day once, in an order of chance; returns the gain.

        While one batch is put in force the next is packed already, as things stood before; a day
        that changed meanwhile is passed over.
        """
        self.sweeps += 1
        self.mover.forget()
        rng = stream(self.mover.seed, "reshuffle", self.sweeps)
        days = [int(g) for g in rng.permutation(len(self.by_day)) if len(self.by_day[g])]
        gain = 0.0
        ahead: list[Batch] = []
        for at in range(0, len(days) + BATCH, BATCH):
            if stop():
                break
            batch = self._begin(days[at : at + BATCH], rng)
            if ahead:
                gain += self._finish(ahead.pop())
            ahead.append(batch)
        return gain

    def look_closer(self) -> None:
        """Try twice as many orders from now on, up to a limit."""
        if self.trials < MOST * TRIALS:
            self.trials *= 2
            self.mover.trials *= 2

    def look_anew(self) -> None:
        """Try as many orders as at first."""
        self.trials, self.mover.trials = TRIALS, FEW

    def _begin(self, days: list[int], rng: np.random.Generator) -> Batch:
        """Let some site-days be packed with their guests."""
        tasks, guests = self._tasks(days, rng)
        versions = {task.siteday: int(self.mover.draft.version[task.siteday]) for task in tasks}
        return Batch(tasks, guests, versions, self.crew.run(tasks))

    def _finish(self, batch: Batch) -> float:
        """Put in force what saves; returns the gain."""
        gain = 0.0
        for task, found in zip(batch.tasks, batch.found, strict=True):
            self.mover.spent += task.trials
            if self.mover.draft.version[task.siteday] == batch.versions[task.siteday]:
                gain += self._accept(task, found, batch.guests[task.siteday])
        return gain

    def _tasks(
        self, days: list[int], rng: np.random.Generator
    ) -> tuple[list[Task], dict[int, list[int]]]:
        mover, taken = self.mover, set[int]()
        draft, values = mover.draft, mover.guide
        tasks, guests = [], {}
        for g in days:
            demand = draft.demand(g)
            options = self.by_day[g]
            now = mover.costs()[draft.options.request[options]]
            gain = now - values.value[options]
            place = draft.place[draft.options.request[options]]
            here = (place >= 0) & (draft.options.siteday[np.maximum(place, 0)] == g)
            good = (gain > LEAST) & ~here & ~draft.options.stay[options]
            gain = gain[good] * rng.uniform(0.5, 1.5, int(good.sum()))
            options = options[good]
            rank = np.argsort(-gain / draft.options.minutes[options])
            chosen: list[int] = []
            for option in options[rank].tolist():
                r = int(draft.options.request[option])
                if len(chosen) >= max(4, GUESTS * len(demand.jobs)):
                    break
                if r not in taken:
                    taken.add(r)
                    chosen.append(option)
            guests[g] = chosen
            jobs = (*demand.jobs, *(draft.job(option) for option in chosen))
            worth = []
            for job in demand.jobs:
                option = int(draft.place[job.request])
                worth.append(max(LEAST, float(values.away[option] - values.value[option])))
            for option in chosen:
                r = int(draft.options.request[option])
                worth.append(max(LEAST, cost_of(mover, r) - float(values.value[option])))
            seed = int(rng.integers(1 << 30))
            full = Demand(jobs, demand.pinned, demand.care)
            tasks.append(Task(g, full, tuple(worth), seed, self.trials, 0.0, self.stricter))
        return tasks, guests

    def _accept(self, task: Task, found: Timetable, guests: list[int]) -> float:
        """Put a day in force, those who fall out elsewhere; undo it where nothing is gained."""
        mover, draft = self.mover, self.mover.draft
        g = task.siteday
        if not found.sound or found.unpinned:
            return 0.0
        placed = {slot.job.request for slot in found.slots}
        new = [o for o in guests if int(draft.options.request[o]) in placed]
        out = [
            job.request
            for job in found.left
            if draft.place[job.request] >= 0
            and draft.options.siteday[int(draft.place[job.request])] == g
        ]
        if not new:
            return 0.0
        touched = [int(draft.options.request[o]) for o in new] + out
        before = sum(cost_of(mover, r) for r in touched)
        saved = draft.save()
        for r in touched:
            mover.take(r, keep=g)
        for option in new:
            draft.place[int(draft.options.request[option])] = option
        draft.set_day(found.without_left())
        after = sum(float(mover.guide.value[o]) for o in new)
        for r in sorted(out, key=lambda r: -float(draft.options.unbooked[r])):
            if after >= before:
                break
            elsewhere = find(mover, r, below=np.inf, avoid=g)
            if elsewhere is None:
                after += float(draft.options.unbooked[r])
            else:
                mover.put(*elsewhere)
                after += float(mover.guide.value[elsewhere[0]])
        if after >= before - 1e-9:
            draft.restore(saved)
            return 0.0
        return before - after


def options_by_day(mover: Mover) -> list[NDArray[np.int64]]:
    """The options of requests on each site-day (care left aside)."""
    options = mover.draft.options
    count = int(options.first[len(mover.draft.place)])
    order = np.argsort(options.siteday[:count], kind="stable")
    days = len(mover.draft.days)
    cuts = np.searchsorted(options.siteday[:count][order], np.arange(1, days))
    return [np.asarray(part, dtype=np.int64) for part in np.split(order, cuts)]
