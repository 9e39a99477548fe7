"""From the first plan to the best in the time given.

Sweeps repack site-days with more people than they hold and trade single places. Both follow a guide
that charges, on top of cost, a share of the price of the minutes a place takes; the share falls
to nothing as the budget is spent (by list schedules made under ``effort``, else by time).
"""

from __future__ import annotations

import math

from planner.engine.booking.exact import exact_days
from planner.engine.booking.guide import guide
from planner.engine.booking.moves import Mover
from planner.engine.booking.pushback import cost_of, trade
from planner.engine.booking.reshuffle import Reshuffle, options_by_day
from planner.engine.booking.stages import Level1, Level2
from planner.engine.booking.state import Run

PACKS_A_UNIT = 2000
"""List schedules that one unit of ``--effort`` buys."""
FIRST_SHARE = 0.6
"""The share of the price that counts at the start."""
PLAIN_FROM = 0.7
"""The part of the budget after which cost alone counts."""
TRADES = 0.15
"""List schedules that trades may take after a sweep, as a share of what the sweep took."""
EXACT_LEFT = 0.1
"""The part of the budget left for the exact day model."""


def improve(run: Run, work: Level2, level: Level1) -> None:
    """Improve the draft until the budget is spent or nothing moves; never ends dearer."""
    run.enter("improve")
    draft, mover = work.draft, work.mover
    budget = _Budget(run, mover)
    reshuffle = Reshuffle(mover, work.crew, options_by_day(mover))
    best, best_cost = draft.save(), draft.cost()
    share, idle = FIRST_SHARE, 0
    while not budget.over(1 - EXACT_LEFT) and idle < 3:
        share = FIRST_SHARE * max(0.0, 1 - budget.spent() / PLAIN_FROM)
        mover.guide = guide(level.choices, level.reduced, share)
        before = mover.spent
        gain = reshuffle.sweep(lambda: budget.over(1 - EXACT_LEFT))
        gain += _trades(mover, budget, int(TRADES * (mover.spent - before)))
        if mover.spent == before:
            break
        idle = idle + 1 if share == 0 and gain < 1e-6 else 0
        if draft.cost() < best_cost - 1e-9:
            best, best_cost = draft.save(), draft.cost()
        run.score(draft)
        run.tell(f"sweep {reshuffle.sweeps}, {share:.2f} of the price counts")
    draft.restore(best)
    mover.guide = guide(level.choices, level.reduced, 0.0)
    run.score(draft)
    run.enter("exact days")
    more = exact_days(mover, work.crew, lambda: budget.over(1.0))
    run.score(draft)
    run.tell(f"{more} more booked")


class _Budget:
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

    def over(self, part: float) -> bool:
        """Whether a part of the budget is spent, or the caller asked to end."""
        return self.run.watch.stopped() or self.spent() >= part


def _trades(mover: Mover, budget: _Budget, packs: int) -> float:
    """Trade the places of the dearest regrets; returns how much the guide's cost fell."""
    gain, last = 0.0, mover.spent + packs
    for r in _regrets(mover):
        if mover.spent >= last or budget.over(1 - EXACT_LEFT):
            break
        gain += trade(mover, r)
    return gain


def _regrets(mover: Mover) -> list[int]:
    """Requests that are not in their cheapest place, the dearest first."""
    options, values = mover.draft.options, mover.guide
    found = []
    for r in range(len(mover.draft.place)):
        if options.first[r] < options.first[r + 1]:
            best = float(values.value[values.order[options.first[r]]])
            regret = cost_of(mover, r) - best
            if regret > 1e-9:
                found.append((-regret, r))
    return [r for _, r in sorted(found)]
