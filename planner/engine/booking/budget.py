"""What a search may spend: list schedules under ``effort``, else wall-clock time."""

from __future__ import annotations

import math
from collections.abc import Callable

from planner.engine.booking.moves import Mover
from planner.engine.booking.state import Run

PACKS_A_UNIT = 2000
"""List schedules that one unit of ``--effort`` buys."""


class Budget:
    """How much of the search's budget is spent, by list schedules or by time."""

    def __init__(self, run: Run, mover: Mover) -> None:
        self.run, self.mover = run, mover
        self.first = mover.spent
        effort = run.options.effort
        self.packs = None if effort is None else effort * PACKS_A_UNIT
        self.seconds = run.left()

    def spent(self) -> float:
        """The part that is spent, 0 to 1."""
        if self.packs is not None and self.packs <= 0:
            return 1.0
        if self.packs is not None:
            return min(1.0, (self.mover.spent - self.first) / self.packs)
        if self.seconds <= 0 or math.isinf(self.seconds):
            return 1.0
        return min(1.0, 1 - self.run.left() / self.seconds)

    def paced(self, part: float) -> Callable[[], bool]:
        """A stop before a step that would go beyond a part, by what the last step took."""
        last = self.spent()

        def stop() -> bool:
            nonlocal last
            now = self.spent()
            step, last = now - last, now
            return self.over(part) or now + step > part

        return stop

    def over(self, part: float) -> bool:
        """Whether a part of the budget is spent, or the caller asked to end."""
        return self.run.watch.stopped() or self.spent() >= part
