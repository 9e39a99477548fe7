"""From the first plan to the best in the time given.

Sweeps repack site-days with more people than they hold and trade single places. Both follow a guide
that charges, on top of cost, a share of the price of the minutes a place takes; the share falls
to nothing as the budget is spent (by list schedules made under ``effort``, else by time).
"""

from __future__ import annotations

from planner.engine.booking.budget import Budget
from planner.engine.booking.cooling import Cooling
from planner.engine.booking.estimate import Estimator
from planner.engine.booking.exact import exact_days
from planner.engine.booking.guide import guide
from planner.engine.booking.level import Level1, Level2
from planner.engine.booking.mend import mend
from planner.engine.booking.moves import Mover
from planner.engine.booking.pushback import cost_of, trade
from planner.engine.booking.reshuffle import Reshuffle, options_by_day
from planner.engine.booking.state import Run

POLISH_FROM = 1_000_000
"""Numbers of the last sweeps start here, so that their draws are their own."""
TRADES = 0.15
"""List schedules that trades may take after a sweep, as a share of what the sweep took."""
SWEEPS_UNTIL = 0.6
EXACT_UNTIL = 0.65
"""Parts of the budget after which sweeps, and the exact day model, end; the rest is polish."""
STRICTER = 0.5
"""Standard errors more than usual by which days packed anew stay below the promises in polish: so
they seldom have to be mended again."""
LITTLE = 1e-3
"""A sweep that brings less than this share of the cost has the next look closer."""
VAIN = 8
"""Rounds in a row that may bring nothing."""


def improve(run: Run, work: Level2, level: Level1, budget: Budget) -> None:
    """Improve the draft until its part of the budget is spent or nothing moves.

    Never ends dearer than it began.
    """
    run.enter("improve")
    draft, mover = work.draft, work.mover
    reshuffle = Reshuffle(mover, work.crew, options_by_day(mover))
    best, best_cost = draft.save(), draft.cost()
    cooling, idle = Cooling(budget, SWEEPS_UNTIL), 0
    while not budget.over(SWEEPS_UNTIL):
        if idle >= VAIN:
            if not cooling.skip():
                break
            idle = 0
        if cooling.turns():
            draft.restore(best)
            reshuffle.look_anew()
        share = cooling.share()
        mover.guide = guide(level.choices, level.reduced, share, mover.guide)
        before = mover.spent
        gain = reshuffle.sweep(lambda: budget.over(SWEEPS_UNTIL))
        gain += _trades(mover, budget, int(TRADES * (mover.spent - before)))
        if mover.spent == before:
            break
        cooling.swept()
        if gain < LITTLE * draft.cost():
            reshuffle.look_closer()
        idle = idle + 1 if share == 0 and gain < 1e-6 else 0
        if draft.cost() < best_cost - 1e-9:
            best, best_cost = draft.save(), draft.cost()
        run.score(draft)
        run.tell(f"sweep {reshuffle.sweeps}, {share:.2f} of the price counts")
    draft.restore(best)
    mover.guide = guide(level.choices, level.reduced, 0.0, mover.guide)
    run.score(draft)
    run.enter("exact days")
    more = exact_days(mover, work.crew, budget.paced(EXACT_UNTIL))
    run.score(draft)
    run.tell(f"{more} more booked")


def settle(
    run: Run, work: Level2, level: Level1, budget: Budget, judge: Estimator
) -> dict[str, float]:
    """Mend the draft, then sweep and mend again while that pays; returns P(wait) by request id.

    What mending took away may find a place in another day; the cheapest mended draft is kept.
    """
    run.enter("mend")
    draft, mover = work.draft, work.mover
    mover.guide = guide(level.choices, level.reduced, 0.0, mover.guide)
    p_wait = mend(mover, judge)
    best, best_cost = draft.save(), draft.cost()
    run.score(draft)
    run.enter("polish")
    days = options_by_day(mover)
    reshuffle = Reshuffle(mover, work.crew, days, sweeps=POLISH_FROM, stricter=STRICTER)
    reshuffle.look_anew()
    usual, mover.packer = mover.packer, mover.packer.stricter(STRICTER)
    vain = 0
    while not budget.over(1.0) and vain < VAIN:
        before = mover.spent
        reshuffle.sweep(lambda: budget.over(1.0))
        if mover.spent == before:
            break
        again = mend(mover, judge)
        vain += 1
        if draft.cost() < best_cost - 1e-9:
            best, best_cost, p_wait, vain = draft.save(), draft.cost(), again, 0
            run.score(draft)
        else:
            draft.restore(best)
            reshuffle.look_closer()
        run.tell(f"sweep {reshuffle.sweeps - POLISH_FROM}")
    draft.restore(best)
    mover.packer = usual
    return p_wait


def _trades(mover: Mover, budget: Budget, packs: int) -> float:
    """Trade the places of the dearest regrets; returns how much the guide's cost fell."""
    gain, last = 0.0, mover.spent + packs
    for r in _regrets(mover):
        if mover.spent >= last or budget.over(SWEEPS_UNTIL):
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
