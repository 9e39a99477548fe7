"""Site-days spread over processes.

Each task carries its own seed, so that the number of workers changes only the time.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import signal
import tempfile
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Thread

from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Timetable
from planner.engine.booking.timetable.hard import pack_hard
from planner.engine.booking.timetable.pool import draw_pool

CHUNK = 2
"""Site-days that a process is handed at a time."""


@dataclass(frozen=True, slots=True)
class Task:
    """One site-day to pack: the demand, what each request is worth there, and the effort.

    ``stricter`` says how many standard errors more than usual it has to stay below the promises.
    """

    siteday: int
    demand: Demand
    worth: tuple[float, ...]
    seed: int
    trials: int
    model_effort: float
    stricter: float = 0.0


class Crew:
    """Packs site-days, in this process or in several.

    The processes read what they share from a file: what is handed over at their start goes through
    a pipe, and a parent that fills it waits for ever on a child that dies while starting. Where a
    process dies, the work goes on in this one, with the same result.
    """

    def __init__(self, packer: Packer, workers: int) -> None:
        self.packer = packer
        self.size = max(1, min(workers, os.cpu_count() or 1))
        self.executor: ProcessPoolExecutor | None = None
        self.begun = False
        self.folder: tempfile.TemporaryDirectory[str] | None = None
        if self.size > 1:
            self.folder = tempfile.TemporaryDirectory(prefix="platen-")
            shared = Path(self.folder.name) / "shared"
            shared.write_bytes(
                pickle.dumps((packer.problem, packer.pool.shape[2], packer.guard, packer.seed))
            )
            self.executor = ProcessPoolExecutor(
                max_workers=self.size,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=_start,
                initargs=(str(shared),),
            )

    def run(self, tasks: Iterable[Task]) -> Iterator[Timetable]:
        """The timetables of the tasks, in their order; other processes begin with them at once.

        The very first is made here: what it compiles is then at hand for every process.
        """
        todo = list(tasks)
        first = [run_task(self.packer, todo[0])] if self._is_first(todo) else []
        results: Iterator[Timetable] | None = None
        if self.executor is not None:
            with suppress(BrokenProcessPool), interrupts_held():
                results = self.executor.map(_run_here, todo[len(first) :], chunksize=CHUNK)
        return self._results(todo, first, results)

    def _is_first(self, todo: list[Task]) -> bool:
        begun, self.begun = self.begun, self.begun or bool(todo)
        return self.executor is not None and not begun and bool(todo)

    def _results(
        self, todo: list[Task], first: list[Timetable], results: Iterator[Timetable] | None
    ) -> Iterator[Timetable]:
        yield from first
        done = len(first)
        if results is not None:
            try:
                for timetable in results:
                    done += 1
                    yield timetable
            except BrokenProcessPool:
                self.close()
        for task in todo[done:]:
            yield run_task(self.packer, task)

    def close(self) -> None:
        """Let the processes go; what they have not begun is dropped."""
        if self.executor is not None:
            self.executor.shutdown(wait=True, cancel_futures=True)
            self.executor = None
        if self.folder is not None:
            self.folder.cleanup()
            self.folder = None


@contextmanager
def interrupts_held() -> Iterator[None]:
    """Hold interrupts back; processes started meanwhile never see one, the parent sees it after.

    An interrupt from a terminal goes to every process of the group, and is the parent's to act on.
    """
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def run_task(packer: Packer, task: Task) -> Timetable:
    """Pack one site-day: list schedules first, the exact model where they fall short."""
    packer = packer.stricter(task.stricter)
    return pack_hard(packer, task.siteday, task.demand, task.worth,
                     seed=task.seed, trials=task.trials, effort=task.model_effort)  # fmt: skip


_HERE: list[Packer] = []


def _start(shared: str) -> None:
    """Set up a process: its own packer, and a watch that ends it when its parent is gone."""
    Thread(target=end_with_parent, daemon=True).start()
    problem, draws, guard, seed = pickle.loads(Path(shared).read_bytes())  # noqa: S301 - our own
    pool = draw_pool(problem.network, draws=draws, seed=seed)
    _HERE[:] = [Packer(problem, pool, guard, seed)]


def end_with_parent() -> None:
    """Wait for the parent to be gone, and end this process then."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _run_here(task: Task) -> Timetable:
    return run_task(_HERE[0], task)
