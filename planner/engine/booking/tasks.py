"""Site-days spread over processes.

Each task carries its own seed, so that the number of workers changes only the time.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from planner.engine.booking.problem import Problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Timetable
from planner.engine.booking.timetable.hard import pack_hard
from planner.engine.booking.timetable.pool import draw_pool


@dataclass(frozen=True, slots=True)
class Task:
    """One site-day to pack: the demand, what each request is worth there, and the effort."""

    siteday: int
    demand: Demand
    worth: tuple[float, ...]
    seed: int
    trials: int
    model_effort: float


class Crew:
    """Packs site-days, in this process or in several."""

    def __init__(self, packer: Packer, workers: int) -> None:
        self.packer = packer
        self.size = max(1, min(workers, os.cpu_count() or 1))
        self.executor: ProcessPoolExecutor | None = None
        if self.size > 1:
            self.executor = ProcessPoolExecutor(
                max_workers=self.size,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=_start,
                initargs=(packer.problem, packer.pool.shape[2], packer.guard, packer.seed),
            )

    def run(self, tasks: Iterable[Task]) -> Iterator[Timetable]:
        """The timetables of the tasks, in their order."""
        if self.executor is None:
            for task in tasks:
                yield run_task(self.packer, task)
        else:
            yield from self.executor.map(_run_here, tasks, chunksize=4)

    def close(self) -> None:
        """Let the processes go; what they have not begun is dropped."""
        if self.executor is not None:
            self.executor.shutdown(wait=True, cancel_futures=True)


def run_task(packer: Packer, task: Task) -> Timetable:
    """Pack one site-day: list schedules first, the exact model where they fall short."""
    return pack_hard(packer, task.siteday, task.demand, task.worth,
                     seed=task.seed, trials=task.trials, effort=task.model_effort)  # fmt: skip


_HERE: list[Packer] = []


def _start(problem: Problem, draws: int, guard: float, seed: int) -> None:
    """Set up a process: its own packer; an interrupt is for the parent to act on."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    pool = draw_pool(problem.network, draws=draws, seed=seed)
    _HERE[:] = [Packer(problem, pool, guard, seed)]


def _run_here(task: Task) -> Timetable:
    return run_task(_HERE[0], task)
