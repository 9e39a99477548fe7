"""Moves of one request between site-days, each proven by packing the day to the minute."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.rows import free_minutes, joint_row
from planner.engine.booking.draft import Draft, pin_of
from planner.engine.booking.guide import Guide
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job, Timetable

DAY_PART = 2
TRIALS = 2


@dataclass(slots=True)
class Mover:
    """Inserts requests into a draft's days and takes them out again.

    ``spent`` counts the list schedules made: the deterministic measure of effort.
    """

    draft: Draft
    packer: Packer
    seed: int
    guide: Guide
    spent: int = 0
    _failed: dict[tuple[int, int], int] = field(default_factory=dict)
    _full: dict[int, tuple[int, int]] = field(default_factory=dict)
    _room: dict[int, int] = field(default_factory=dict)

    def costs(self) -> NDArray[np.float64]:
        """What the guide takes every request to cost as things stand."""
        place = self.draft.place
        out = self.draft.options.unbooked[: len(place)]
        if not len(self.guide.value):
            return out.copy()
        found: NDArray[np.float64] = np.where(place >= 0, self.guide.value[place], out)
        return found

    def idle(self, g: int) -> int:
        """At most so many minutes of a site-day are left: a pair of a station and a worker each."""
        if g not in self._room:
            siteday = self.draft.problem.sitedays[g]
            self._room[g] = int(joint_row(siteday, free_minutes(siteday), DAY_PART, 0).minutes)
        day = self.draft.days[g]
        used = sum(slot.job.minutes for slot in day.slots)
        used += sum(block.minutes for block in day.pinned)
        used += sum(block.minutes for _, block in day.care if block.worker >= 0)
        return self._room[g] - used

    def fits(self, option: int, without: int | None = None) -> Timetable | None:
        """The option's site-day with the request in it and nobody left, or None.

        ``without`` names a request that is to leave the day for it.
        """
        draft = self.draft
        g, request = int(draft.options.siteday[option]), int(draft.options.request[option])
        key, minutes = (request, g), int(draft.options.minutes[option])
        if without is None:
            if self._failed.get(key) == draft.version[g] or self.idle(g) < minutes:
                return None
            version, shortest = self._full.get(g, (-1, 0))
            if version == draft.version[g] and minutes >= shortest:
                return None
        demand = self.wanted(g, option, without)
        if demand is None:
            return None
        siteday = draft.problem.sitedays[g]
        self.spent += TRIALS
        found = self.packer.pack(siteday, demand, trials=TRIALS, seed=self.spent)
        if found.sound and not found.left and not found.unpinned:
            return found
        if without is None:
            version = int(draft.version[g])
            self._failed[key] = version
            if self._easy(option):
                was = self._full.get(g, (-1, 0))
                shortest = min(minutes, was[1]) if was[0] == version else minutes
                self._full[g] = (version, shortest)
        return None

    def _easy(self, option: int) -> bool:
        """Whether a request asks for nothing: where it finds no room, nobody as long does."""
        problem = self.draft.problem
        request = int(self.draft.options.request[option])
        item = problem.network.requests[request]
        held = problem.sitedays[int(self.draft.options.siteday[option])].reserve > 0
        return not (
            item.available
            or problem.needs.feature_of[request]
            or self.draft.options.skill[option]
            or self.draft.options.stay[option]
            or (held and not item.rework)
        )

    def wanted(self, g: int, option: int, without: int | None) -> Demand | None:
        """A site-day's demand with one option added (and one request left out)."""
        draft = self.draft
        demand = draft.demand(g)
        request = int(draft.options.request[option])
        gone = {request, without}
        jobs = tuple(job for job in demand.jobs if job.request not in gone)
        pinned = tuple(block for block in demand.pinned if block.request not in gone)
        if draft.options.stay[option]:
            job: Job = draft.job(option)
            block = pin_of(draft.problem, g, request, job.minutes, job.profile)
            if block is None:
                return None
            return Demand(jobs, (*pinned, block), demand.care)
        return Demand((*jobs, draft.job(option)), pinned, demand.care)

    def put(self, option: int, timetable: Timetable) -> None:
        """Put a request in its new place; the timetable holds it already."""
        draft = self.draft
        request = int(draft.options.request[option])
        self.take(request, keep=timetable.siteday)
        draft.place[request] = option
        draft.set_day(timetable)

    def take(self, request: int, keep: int | None = None) -> None:
        """Take a request out of its place (but leave the day ``keep`` as it is).

        The others on the day keep their times: with one booking fewer nobody waits longer.
        """
        draft = self.draft
        option = int(draft.place[request])
        if option < 0:
            return
        g = int(draft.options.siteday[option])
        draft.place[request] = -1
        if g != keep:
            day = draft.days[g]
            slots = tuple(slot for slot in day.slots if slot.job.request != request)
            pinned = tuple(block for block in day.pinned if block.request != request)
            draft.set_day(replace(day, slots=slots, pinned=pinned))
