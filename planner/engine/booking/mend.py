"""Days that break a promise are opened up by the least that mends them.

The list schedule keeps the promises on its own draws; here they are estimated afresh, with many
draws and over whole days (a technician may serve two sites on one date).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.engine.booking.draft import Draft
from planner.engine.booking.estimate import Estimator, Risk
from planner.engine.booking.moves import Mover
from planner.engine.booking.pushback import seat
from planner.engine.booking.siteday import Block
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Slot, Timetable
from planner.engine.booking.timetable.hard import loss
from planner.engine.units import told

MARGIN = 0.5
"""Standard errors by which an estimate must stay below a promise: the day is kept, not its luck."""
SHIFTS = 6
"""Rounds in which bookings in breach start later; after these they are taken out."""
STRICTER = (0.5, 1.0)
"""Standard errors more than usual that a day packed anew must stay below the promises."""
TRIALS = 256
WHOLE = (False, 0, 0)
"""What a timetable loses that leaves nobody out."""
SEATS = 8
"""Rounds after which those who lost their place are not sent on any more."""

Floors = dict[tuple[int, int], int]


def mend(mover: Mover, judge: Estimator) -> dict[str, float]:
    """Open up the days in breach until every promise holds; returns P(wait) by request id.

    A booking that waits too long starts at the next time on the grain, and what follows moves with
    it; only where the day has no room for that, or an end is too late, is somebody taken out and
    sent on. ``judge`` has draws of its own, apart from those that the draft was packed on.
    """
    draft = mover.draft
    floors: Floors = {}
    rounds = 0
    stricter = [mover.packer.stricter(more) for more in STRICTER]
    while True:
        risks = judge.risks()
        found = breaches(draft, risks, judge.pool.shape[2])
        if not found:
            requests = draft.problem.network.requests
            return {requests[item.thing].id: item.risk for item in risks if item.kind == "wait"}
        rounds += 1
        for g, broken in found.items():
            gone = _shift(mover, stricter, g, broken, floors) if rounds <= SHIFTS else None
            for request in _thin(draft, broken[0]) if gone is None else gone:
                if rounds <= SEATS:
                    seat(mover, request, below=np.inf, avoid=g)


def limit(risk: float, draws: int) -> float:
    """The largest estimate that is taken as keeping a promised risk."""
    if risk >= 1:
        return 1.0
    error: float = (risk * (1 - risk) / draws) ** 0.5
    return max(0.0, risk - MARGIN * error)


def breaches(draft: Draft, risks: list[Risk], draws: int) -> dict[int, list[Risk]]:
    """The promises broken on each site-day by what the run placed.

    A station or shift with nothing but fixed appointments is not the run's doing.
    """
    policy = draft.problem.network.policy
    waits, ends = limit(policy.wait_risk, draws), limit(policy.overtime_risk, draws)
    found: dict[int, list[Risk]] = {}
    for item in risks:
        if item.placed and item.risk > (waits if item.kind == "wait" else ends):
            found.setdefault(item.siteday, []).append(item)
    return dict(sorted(found.items()))


def _shift(
    mover: Mover, stricter: list[Packer], g: int, broken: list[Risk], floors: Floors
) -> list[int] | None:
    """Let bookings in breach start later, in the day's own order; returns who loses the place.

    Where somebody would lose it, other orders are tried that keep the promises more strictly; who
    then is worth least stays out.
    None where an end is too late or the day cannot be packed so beside its pinned appointments.
    """
    draft = mover.draft
    day, siteday = draft.days[g], draft.problem.sitedays[g]
    late = {item.thing for item in broken if item.kind == "wait"}
    slots = sorted(day.slots, key=lambda slot: (slot.start, slot.station))
    grain = draft.problem.network.grain
    moved = False
    for slot in slots:
        if slot.job.request in late:
            floors[g, slot.job.request] = told(slot.start, grain) + grain
            moved = True
    if not moved:
        return None
    rests = {w: start for w, start in enumerate(day.rests) if start >= 0}
    mine = {request: floor for (place, request), floor in floors.items() if place == g}
    demand = draft.demand(g)
    worth = [draft.saving(job.request, int(draft.place[job.request])) for job in demand.jobs]
    value = dict(zip((job.request for job in demand.jobs), worth, strict=True))
    found = mover.packer.pack_in_order(siteday, demand, slots, rests, mine)
    for packer in stricter:
        if loss(found, value) == WHOLE:
            break
        mover.spent += TRIALS
        again = packer.pack(siteday, demand, trials=TRIALS, seed=mover.spent, worth=worth)
        if loss(again, value) < loss(found, value):
            found = again
            for key in [key for key in floors if key[0] == g]:
                del floors[key]
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
    victim = _before(day, breach.thing) if breach.kind == "wait" else _last(day, breach)
    slots = tuple(slot for slot in day.slots if slot.job.request != victim)
    pinned = tuple(block for block in day.pinned if block.request != victim)
    draft.set_day(replace(day, slots=slots, pinned=pinned))
    draft.place[victim] = -1
    return [victim]


def _last(day: Timetable, breach: Risk) -> int:
    """The last booking of a station or worker that ends late.

    A worker who has only care is late by the bookings on the stations cared for.
    """
    kind, things = breach.kind, {breach.thing}
    placed: list[Slot | Block] = [*day.slots, *day.pinned]
    if not any(getattr(item, kind) in things for item in placed):
        kind, things = "station", {b.station for _, b in day.care if b.worker == breach.thing}
    mine = [item for item in placed if getattr(item, kind) in things]
    last = max(mine, key=lambda item: item.start)
    return last.job.request if isinstance(last, Slot) else last.request


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
