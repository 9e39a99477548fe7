"""Regions planned on several processes, their progress told as one run's."""

from __future__ import annotations

import multiprocessing
import queue
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from functools import partial
from multiprocessing.synchronize import Event
from threading import Thread

from planner.engine.booking.regions.together import Together
from planner.engine.booking.run import plan
from planner.engine.booking.tasks import end_with_parent, interrupts_held
from planner.engine.booking.watch import Options, Progress, Watch
from planner.engine.errors import Fault, NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan

LOOK = 0.2
"""Seconds between two looks at what the processes tell and at whether somebody asked to end."""


@dataclass(frozen=True, slots=True)
class Part:
    """A region to plan: its number from 0, its network, and what it may spend."""

    number: int
    network: Network
    options: Options


class RegionImpossible(Exception):
    """A region that no plan can serve; the faults have the places of its own network."""

    def __init__(self, faults: tuple[Fault, ...], region: int) -> None:
        super().__init__(f"region {region}")
        self.faults, self.region = faults, region


@dataclass(slots=True)
class _Teller:
    """The watch of one region: tells the parent, and ends where the parent says so."""

    region: int
    tell: Callable[[int, Progress], None]
    ended: Callable[[], bool]

    def report(self, progress: Progress) -> None:
        self.tell(self.region, progress)

    def stopped(self) -> bool:
        return self.ended()


@dataclass(slots=True)
class _Ensemble:
    """The regions' progress on its way to the watch of the whole."""

    watch: Watch
    clock: Callable[[], float]
    together: Together
    began: float
    plans: dict[int, Plan] = field(default_factory=dict)

    def hear(self, region: int, progress: Progress) -> None:
        self.together.hear(region, progress)
        self.tell()

    def take(self, region: int, made: Callable[[], Plan]) -> None:
        try:
            self.plans[region] = made()
        except NetworkImpossible as error:
            raise RegionImpossible(error.faults, region) from error
        self.together.end(region)
        self.tell()

    def tell(self) -> None:
        self.watch.report(self.together.progress(self.clock() - self.began))


def plan_apart(
    parts: Sequence[Part], workers: int, watch: Watch, clock: Callable[[], float]
) -> list[Plan]:
    """A plan for each part, in order; with one worker one after another in this process.

    Where a process dies, what it had is planned in this one. Raises what `plan` raises;
    RegionImpossible names the region.
    """
    choir = _Ensemble(watch, clock, Together(len(parts)), clock())
    largest_first = sorted(parts, key=lambda part: -len(part.network.requests))
    if workers > 1:
        try:
            _on_processes(largest_first, min(workers, len(parts)), choir)
        except BrokenProcessPool:
            watch.report(choir.together.progress(clock() - choir.began))
    for part in largest_first:
        if part.number not in choir.plans:
            teller = _Teller(part.number, choir.hear, watch.stopped)
            choir.take(part.number, partial(plan, part.network, part.options, teller))
    return [choir.plans[part.number] for part in parts]


def _on_processes(parts: Sequence[Part], size: int, choir: _Ensemble) -> None:
    context = multiprocessing.get_context("spawn")
    news: multiprocessing.Queue[tuple[int, Progress]] = context.Queue()
    ended = context.Event()
    executor = ProcessPoolExecutor(size, context, initializer=_start, initargs=(news, ended))
    try:
        with interrupts_held():
            todo = {executor.submit(_plan_here, part): part.number for part in parts}
        _follow(todo, news, ended, choir)
    finally:
        ended.set()
        executor.shutdown(wait=True, cancel_futures=True)
        news.close()


def _follow(
    todo: dict[Future[Plan], int],
    news: multiprocessing.Queue[tuple[int, Progress]],
    ended: Event,
    choir: _Ensemble,
) -> None:
    """Pass on what the processes tell until each has its plan; the first failure is raised."""
    while todo:
        done, _ = wait(todo, timeout=LOOK, return_when=FIRST_COMPLETED)
        _pass_on(news, choir)
        for future in done:
            choir.take(todo.pop(future), future.result)
        if choir.watch.stopped():
            ended.set()


def _pass_on(news: multiprocessing.Queue[tuple[int, Progress]], choir: _Ensemble) -> None:
    while True:
        try:
            choir.hear(*news.get_nowait())
        except queue.Empty:
            return


_HERE: list[tuple[multiprocessing.Queue[tuple[int, Progress]], Event]] = []


def _start(news: multiprocessing.Queue[tuple[int, Progress]], ended: Event) -> None:
    """Set up a process: where it tells what it does, and a watch that ends it with its parent."""
    Thread(target=end_with_parent, daemon=True).start()
    news.cancel_join_thread()
    _HERE[:] = [(news, ended)]


def _plan_here(part: Part) -> Plan:
    news, ended = _HERE[0]
    teller = _Teller(part.number, lambda region, told: news.put((region, told)), ended.is_set)
    return plan(part.network, part.options, teller)
