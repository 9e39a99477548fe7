"""Days that break a promise are opened up by the least that mends them.

The list schedule keeps the promises on its own draws; here they are estimated afresh, with many
draws and over whole days (a technician may serve two sites on one date). A day in breach is packed
again in its own order with more draws, so that starts move later where they must; what then finds
no room is sent on.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.draft import Draft
from planner.engine.booking.estimate import Risk, estimate
from planner.engine.booking.moves import Mover
from planner.engine.booking.pushback import push_back
from planner.engine.booking.timetable.day import Packer, Slot, Timetable
from planner.engine.rng import stream

MARGIN = 2.5
"""Standard errors by which an estimate must stay below a promise: the day is kept, not its luck."""
ROUNDS = 4
REORDERS = 2
"""Rounds in which days are packed again in order, and what is lost is sent on."""


def mend(mover: Mover, strict: Packer, pool: NDArray[np.float32]) -> dict[str, float]:
    """Open up the days in breach until every promise holds; returns P(wait) by request id.

    ``pool`` holds the draws of the estimate, apart from those that the draft was packed on.
    """
    draft = mover.draft
    rounds = 0
    while True:
        risks = estimate(draft, pool)
        found = breaches(draft, risks, pool.shape[2])
        if not found:
            requests = draft.problem.network.requests
            return {requests[item.thing].id: item.risk for item in risks if item.kind == "wait"}
        rounds += 1
        dropped: list[int] = []
        for g, worst in found.items():
            gone = _reorder(draft, strict, g) if rounds <= REORDERS else None
            dropped += _thin(draft, worst) if gone is None else gone
        if rounds <= ROUNDS:
            seed = int(stream(mover.seed, "mend", rounds).integers(1 << 30))
            push_back(Mover(draft, strict, seed), dropped, lambda: False)


def limit(risk: float, draws: int) -> float:
    """The largest estimate that is taken as keeping a promised risk."""
    if risk >= 1:
        return 1.0
    error: float = (risk * (1 - risk) / draws) ** 0.5
    return max(0.0, risk - MARGIN * error)


def breaches(draft: Draft, risks: list[Risk], draws: int) -> dict[int, Risk]:
    """The first promise broken on each site-day by what the run placed.

    A station or shift with nothing but fixed appointments is not the run's doing.
    """
    policy = draft.problem.network.policy
    waits, ends = limit(policy.wait_risk, draws), limit(policy.overtime_risk, draws)
    found: dict[int, Risk] = {}
    for item in risks:
        if item.placed and item.risk > (waits if item.kind == "wait" else ends):
            found.setdefault(item.siteday, item)
    return dict(sorted(found.items()))


def _reorder(draft: Draft, strict: Packer, g: int) -> list[int] | None:
    """Pack a day again in its own order with more draws; returns the requests without room.

    None where that cannot be done beside the day's pinned appointments.
    """
    day = draft.days[g]
    slots = sorted(day.slots, key=lambda slot: (slot.start, slot.station))
    rests = {w: start for w, start in enumerate(day.rests) if start >= 0}
    siteday = draft.problem.sitedays[g]
    found = strict.pack_in_order(siteday, draft.demand(g), slots, rests)
    if not found.sound or found.unpinned:
        return None
    left = [job.request for job in found.left]
    draft.set_day(replace(found, left=()))
    for request in left:
        draft.place[request] = -1
    return left


def _thin(draft: Draft, breach: Risk) -> list[int]:
    """Take one booking out for a breach: the one that waits, the one before, or the last."""
    day = draft.days[breach.siteday]
    if breach.kind == "wait":
        victim = _before(day, breach.thing)
    else:
        mine = [slot for slot in day.slots if getattr(slot, breach.kind) == breach.thing]
        pins = [block for block in day.pinned if getattr(block, breach.kind) == breach.thing]
        victim = max(mine, key=lambda slot: slot.start).job.request if mine else pins[-1].request
    slots = tuple(slot for slot in day.slots if slot.job.request != victim)
    pinned = tuple(block for block in day.pinned if block.request != victim)
    draft.set_day(replace(day, slots=slots, pinned=pinned))
    draft.place[victim] = -1
    return [victim]


def _before(day: Timetable, request: int) -> int:
    """The booking in breach where it may be moved; for a pinned one, the booking before it."""
    if any(slot.job.request == request for slot in day.slots):
        return request
    block = next(block for block in day.pinned if block.request == request)

    def ahead(slot: Slot) -> bool:
        return slot.start < block.start and (
            slot.station == block.station or slot.worker == block.worker
        )

    earlier = [slot for slot in day.slots if ahead(slot)]
    return max(earlier, key=lambda slot: slot.start).job.request if earlier else request
