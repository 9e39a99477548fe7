"""Days that break a promise are opened up by the least that mends them.

The list schedule keeps the promises on its own draws; here they are estimated afresh, with many
draws and over whole days (a technician may serve two sites on one date). A day in breach is packed
again in its own order with more draws, so that starts move later where they must; what then finds
no room is sent on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from planner.engine.booking.draft import Draft
from planner.engine.booking.moves import Mover
from planner.engine.booking.parts import bookings_of, breaks_of, care_of
from planner.engine.booking.pushback import push_back
from planner.engine.booking.timetable.day import Packer, Slot, Timetable
from planner.engine.sessions.waits import Outcome, assess
from planner.engine.units import DAY

DRAWS = 16_000
MARGIN = 2.5
"""Standard errors by which an estimate must stay below a promise: the day is kept, not its luck."""
ROUNDS = 6


@dataclass(frozen=True, slots=True)
class Breach:
    """A promise broken on a site-day: by a booking's wait, or by a station's or worker's end."""

    siteday: int
    kind: str
    thing: int


def estimate(draft: Draft, seed: int) -> Outcome:
    """What the draft risks, on draws of its own."""
    return assess(
        draft.problem.network, bookings_of(draft, {}), care_of(draft), breaks_of(draft),
        draws_n=DRAWS, seed=seed, purpose="mend",
    )  # fmt: skip


def mend(mover: Mover, strict: Packer, seed: int) -> Outcome:
    """Open up the days in breach until every promise holds; returns the final estimate."""
    draft = mover.draft
    for round_ in range(ROUNDS):
        outcome = estimate(draft, seed)
        found = breaches(draft, outcome)
        if not found:
            return outcome
        dropped: list[int] = []
        for g in sorted({breach.siteday for breach in found}):
            if round_ < 2:
                dropped += _reorder(draft, strict, g)
            else:
                dropped += _thin(draft, g, [b for b in found if b.siteday == g])
        if round_ < ROUNDS - 3:
            push_back(Mover(draft, strict, seed + 1 + round_), dropped, lambda: False)
    while True:
        outcome = estimate(draft, seed)
        found = breaches(draft, outcome)
        if not found:
            return outcome
        for g in sorted({breach.siteday for breach in found}):
            _thin(draft, g, [b for b in found if b.siteday == g])


def limit(risk: float) -> float:
    """The largest estimate that is taken as keeping a promised risk."""
    if risk >= 1:
        return 1.0
    error: float = (risk * (1 - risk) / DRAWS) ** 0.5
    return risk - MARGIN * error


def breaches(draft: Draft, outcome: Outcome) -> list[Breach]:
    """Promises broken by what the run placed; a day of fixed appointments alone is not its doing."""
    problem, policy = draft.problem, draft.problem.network.policy
    network, index = problem.network, problem.index
    waits, ends = limit(policy.wait_risk), limit(policy.overtime_risk)
    found = []
    for day in draft.days:
        placed = {slot.job.request for slot in day.slots} | {b.request for b in day.pinned}
        for r in sorted(placed):
            if outcome.p_wait.get(network.requests[r].id, 0.0) > waits:
                found.append(Breach(day.siteday, "wait", r))
    for (station, day_number), risk in outcome.station_overtime.items():
        k = index.station[station]
        site = index.site[network.stations[k].site]
        g = problem.at.get((site, day_number))
        if risk > ends and g is not None:
            place = problem.sitedays[g].stations.index(k)
            if _removable(draft, g, "station", place):
                found.append(Breach(g, "station", place))
    for (name, shift), risk in outcome.shift_overtime.items():
        if risk > ends:
            found += _late_shift(draft, index.technician[name], shift)
    return found


def _late_shift(draft: Draft, person: int, shift: int) -> list[Breach]:
    problem = draft.problem
    item = problem.network.technicians[person].shifts[shift]
    site = problem.index.site[item.site]
    for day in range((item.end - 1) // DAY, item.start // DAY - 1, -1):
        g = problem.at.get((site, day))
        if g is None:
            continue
        for w, worker in enumerate(problem.sitedays[g].workers):
            if (worker.technician, worker.shift) == (person, shift) and _removable(
                draft, g, "worker", w
            ):
                return [Breach(g, "worker", w)]
    return []


def _removable(draft: Draft, g: int, kind: str, place: int) -> bool:
    day = draft.days[g]
    return any(getattr(item, kind) == place for item in (*day.slots, *day.pinned))


def _reorder(draft: Draft, strict: Packer, g: int) -> list[int]:
    """Pack a day again in its own order with more draws; returns the requests without room."""
    day = draft.days[g]
    slots = sorted(day.slots, key=lambda slot: (slot.start, slot.station))
    rests = {w: start for w, start in enumerate(day.rests) if start >= 0}
    siteday = draft.problem.sitedays[g]
    found = strict.pack_in_order(siteday, draft.demand(g), slots, rests)
    if not found.sound or found.unpinned:
        return []
    left = [job.request for job in found.left]
    draft.set_day(replace(found, left=()))
    for request in left:
        draft.place[request] = -1
    return left


def _thin(draft: Draft, g: int, found: list[Breach]) -> list[int]:
    """Take one booking out for the first breach of a day: the one before, or the one in breach."""
    day = draft.days[g]
    breach = found[0]
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
