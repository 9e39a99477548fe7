"""The exact day model where list schedules fall short: site-days that somebody still wants."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from planner.engine.booking.draft import Draft
from planner.engine.booking.moves import Mover
from planner.engine.booking.tasks import Crew, Task
from planner.engine.booking.timetable.demand import Demand, Timetable

WANTED = 6
"""How many requests that are left out are offered to one site-day at a time."""
PLACES = 8
"""How many of their cheapest options such requests look at."""
EFFORT = 0.1
"""Deterministic seconds that CP-SAT may take for one site-day."""
TRIALS = 16
BATCH = 2
VAIN = 2
"""Batches in a row that may bring nothing."""


def exact_days(mover: Mover, crew: Crew, stop: Callable[[], bool]) -> int:
    """Offer site-days to requests that are left out; returns how many more are booked.

    Days are taken in batches that share no request, the days with most idle minutes first; each is
    packed in more orders and then by the exact model, until a few batches bring nothing.
    """
    draft = mover.draft
    before = draft.booked()
    tried: set[tuple[int, int]] = set()
    vain, number = 0, 0
    while vain < VAIN and not stop():
        number += 1
        batch = _batch(mover, tried, BATCH)
        if not batch:
            break
        had = draft.cost()
        tasks = []
        for g, wanted in batch.items():
            demand = draft.demand(g)
            jobs = (*demand.jobs, *(draft.job(option) for option in wanted))
            worth = [
                draft.saving(job.request, int(draft.place[job.request])) for job in demand.jobs
            ]
            worth += [draft.saving(int(draft.options.request[o]), o) for o in wanted]
            full = Demand(jobs, demand.pinned, demand.care)
            seed = mover.seed + 7919 * number
            tasks.append(Task(g, full, tuple(worth), seed, TRIALS, EFFORT))
        for task, timetable in zip(tasks, crew.run(tasks), strict=True):
            _accept(draft, task, timetable, batch[task.siteday])
        vain = 0 if draft.cost() < had - 1e-9 else vain + 1
    return draft.booked() - before


def _batch(mover: Mover, tried: set[tuple[int, int]], size: int) -> dict[int, list[int]]:
    """Options that requests left out would like, by site-day; no request twice."""
    draft = mover.draft
    options = draft.options
    wishes: dict[int, list[tuple[float, int]]] = {}
    for r in range(len(draft.problem.network.requests)):
        if draft.place[r] >= 0:
            continue
        low, high = int(options.first[r]), int(options.first[r + 1])
        for option in range(low, min(high, low + PLACES)):
            g = int(options.siteday[option])
            if (r, g) not in tried and not options.stay[option]:
                wishes.setdefault(g, []).append((-draft.saving(r, option), option))
    batch: dict[int, list[int]] = {}
    taken: set[int] = set()
    for g in sorted(wishes, key=lambda g: (-mover.idle(g), g)):
        chosen: list[int] = []
        for _, option in sorted(wishes[g]):
            r = int(options.request[option])
            if r not in taken and len(chosen) < WANTED:
                chosen.append(option)
                taken.add(r)
                tried.add((r, g))
        if chosen:
            batch[g] = chosen
        if len(batch) == size:
            break
    return batch


def _accept(draft: Draft, task: Task, timetable: Timetable, wanted: list[int]) -> None:
    """Put a day's new timetable in force where it is sound and saves cost."""
    placed = {slot.job.request for slot in timetable.slots}
    new = [o for o in wanted if int(draft.options.request[o]) in placed]
    gone = [job.request for job in timetable.left if draft.place[job.request] >= 0]
    saved = sum(draft.saving(int(draft.options.request[o]), o) for o in new)
    saved -= sum(draft.saving(r, int(draft.place[r])) for r in gone)
    if not timetable.sound or timetable.unpinned or saved <= 1e-9:
        return
    for option in new:
        draft.place[int(draft.options.request[option])] = option
    draft.place[gone] = -1
    draft.set_day(replace(timetable, left=()))
