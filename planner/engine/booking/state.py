"""Where a run stands: its budget, its stage and what it tells the watch."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import dataclass, field

from planner.engine.booking.draft import Draft
from planner.engine.booking.watch import (
    DEFAULT_SECONDS,
    Interrupted,
    Options,
    Progress,
    Watch,
)
from planner.engine.network import Network

TAIL_SECONDS = 0.5
TAIL_PER_REQUEST = 0.00033
"""Seconds a request that mending, reasons and the check take in the end (measured at L)."""


@dataclass(slots=True)
class Run:
    """The state of a run: what was asked, what has been found, and how long it took."""

    network: Network
    options: Options
    watch: Watch
    clock: Callable[[], float]
    seconds: dict[str, float] = field(default_factory=dict)
    bound: float | None = None
    cost: float | None = None
    booked: int | None = None
    _began: float = 0.0
    _stage: str = ""
    _stage_began: float = 0.0

    def __post_init__(self) -> None:
        self._began = self.clock()

    def enter(self, stage: str, detail: str = "") -> None:
        """Begin a stage and say so; an empty name ends the last."""
        now = self.clock()
        if self._stage:
            self.seconds[self._stage] = round(now - self._stage_began, 3)
        self._stage, self._stage_began = stage, now
        if stage:
            self.tell(detail)

    def tell(self, detail: str = "") -> None:
        """Report where the run stands."""
        gap = None
        if self.cost is not None and self.bound:
            gap = (self.cost - self.bound) / self.bound
        self.watch.report(
            Progress(self._stage, self.cost, self.bound, gap, self.booked, detail, self.spent())
        )

    def score(self, draft: Draft) -> None:
        """Take note of a draft's cost and bookings."""
        self.cost, self.booked = draft.cost(), draft.booked()

    def left(self) -> float:
        """Seconds of the wall-clock budget left for the search; endless under ``effort``.

        What the end of the run takes is kept back.
        """
        if self.options.effort is not None:
            return math.inf
        budget = self.options.seconds if self.options.seconds is not None else DEFAULT_SECONDS
        tail = TAIL_SECONDS + TAIL_PER_REQUEST * len(self.network.requests)
        return budget - min(tail, budget / 2) - self.spent()

    def spent(self) -> float:
        """Seconds since the run began."""
        return self.clock() - self._began

    def until(self, seconds: float) -> Callable[[], bool]:
        """Whether the caller asked to end, or so many seconds from now have passed."""
        end = self.clock() + seconds
        return lambda: self.watch.stopped() or self.clock() > end

    def threads(self) -> int:
        """How many threads may work at once: the workers asked for, as far as there are cores."""
        return max(1, min(self.options.workers, os.cpu_count() or 1))

    def ended(self) -> bool:
        """Whether the caller asked to end, or the time is up."""
        return self.watch.stopped() or self.left() <= 0

    def stop_before_plan(self) -> None:
        """Raise Interrupted where the caller asked to end and there is no plan yet."""
        if self.watch.stopped():
            raise Interrupted
