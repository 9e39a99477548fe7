"""Moves of one request between site-days, each proven by packing the day to the minute."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.rows import free_minutes, joint_row
from planner.engine.booking.draft import Draft, pin_of
from planner.engine.booking.guide import Guide
from planner.engine.booking.timetable.asked import Asked
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Timetable

DAY_PART = 2
TRIALS = 8
"""Orders in which a day with one more is packed at first."""


@dataclass(slots=True)
class Mover:
    """Inserts requests into a draft's days and takes them out again.

    ``spent`` counts the list schedules made: the deterministic measure of effort. ``hands`` are
    the ``threads`` beside this one, which pack days at the same time.
    """

    draft: Draft
    packer: Packer
    seed: int
    guide: Guide
    hands: ThreadPoolExecutor | None = None
    threads: int = 1
    trials: int = TRIALS
    spent: int = 0
    _failed: dict[tuple[int, int], int] = field(default_factory=dict)
    _full: dict[int, tuple[int, int]] = field(default_factory=dict)
    _room: dict[int, int] = field(default_factory=dict)
    _idle: dict[int, tuple[Timetable, int]] = field(default_factory=dict)
    _days: dict[int, tuple[Timetable, Asked]] = field(default_factory=dict)

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
        day, known = self.draft.days[g], self._idle.get(g)
        if known is not None and known[0] is day:
            return known[1]
        if g not in self._room:
            siteday = self.draft.problem.sitedays[g]
            self._room[g] = int(joint_row(siteday, free_minutes(siteday), DAY_PART, 0).minutes)
        used = sum(slot.job.minutes for slot in day.slots)
        used += sum(block.minutes for block in day.pinned)
        used += sum(block.minutes for _, block in day.care if block.worker >= 0)
        self._idle[g] = (day, self._room[g] - used)
        return self._room[g] - used

    def fits(self, option: int, without: int | None = None) -> Timetable | None:
        """The option's site-day with the request in it and nobody left, or None.

        ``without`` names a request that is to leave the day for it.
        """
        if without is None:
            found = self.first_that_fits([option])
            return None if found is None else found[1]
        asked = self._asked(int(self.draft.options.siteday[option]), option, without)
        if asked is None:
            return None
        self.spent += self.trials
        return self.packer.pack_whole(asked, trials=self.trials, seed=self.spent)

    def first_that_fits(self, options: Sequence[int]) -> tuple[int, Timetable] | None:
        """The first of a request's options that fits, with its day's new timetable.

        As many are tried at once as there are threads; what one thread would not have come to is
        neither counted nor noted, so that their number changes only the time.
        """
        at = 0
        while at < len(options):
            tried: dict[int, tuple[int, Asked]] = {}
            while at < len(options) and len(tried) < self.threads:
                g = int(self.draft.options.siteday[options[at]])
                if g in tried:
                    break
                if not self._hopeless(options[at]):
                    asked = self._asked(g, options[at], None)
                    if asked is not None:
                        tried[g] = options[at], asked
                at += 1
            for (option, _), found in zip(tried.values(), self._pack(tried), strict=True):
                self.spent += self.trials
                if found is not None:
                    return option, found
                self._note(option)
        return None

    def _pack(self, tried: dict[int, tuple[int, Asked]]) -> Iterator[Timetable | None]:
        """The days with one more each, or None; the first is packed in this thread."""
        asks = [asked for _, asked in tried.values()]
        seeds = [self.spent + self.trials * (k + 1) for k in range(len(asks))]
        pack = partial(self.packer.pack_whole, trials=self.trials)
        later = [
            self.hands.submit(pack, asked, seed=seed)
            for asked, seed in zip(asks[1:], seeds[1:], strict=True)
            if self.hands is not None
        ]
        if asks:
            yield pack(asks[0], seed=seeds[0])
        for future in later:
            yield future.result()

    def forget(self) -> None:
        """Try anew what did not fit: other orders may place it."""
        self._failed.clear()
        self._full.clear()

    def _hopeless(self, option: int) -> bool:
        """Whether the option is known not to fit while its day is as it is."""
        options, version = self.draft.options, self.draft.version
        g, minutes = int(options.siteday[option]), int(options.minutes[option])
        if self._failed.get((int(options.request[option]), g)) == version[g]:
            return True
        known, shortest = self._full.get(g, (-1, 0))
        return self.idle(g) < minutes or (known == version[g] and minutes >= shortest)

    def _note(self, option: int) -> None:
        """Remember that an option did not fit its day as it is."""
        options = self.draft.options
        g, minutes = int(options.siteday[option]), int(options.minutes[option])
        version = int(self.draft.version[g])
        self._failed[int(options.request[option]), g] = version
        if self._easy(option):
            was = self._full.get(g, (-1, 0))
            self._full[g] = version, min(minutes, was[1]) if was[0] == version else minutes

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

    def _asked(self, g: int, option: int, without: int | None) -> Asked | None:
        """A site-day with one option added (and one request left out); None where it cannot stay.

        What the day holds now is kept as arrays, as a day is asked many times before it changes.
        """
        draft, asking = self.draft, self.packer.asking
        day, request = draft.days[g], int(draft.options.request[option])
        gone = {request, without}
        siteday, job = draft.problem.sitedays[g], draft.job(option)
        if not draft.options.stay[option] and gone.isdisjoint(b.request for b in day.pinned):
            known = self._days.get(g)
            if known is None or known[0] is not day:
                known = self._days[g] = (day, asking.ask(siteday, draft.demand(g)))
            return asking.with_one(known[1], job, without)
        demand = draft.demand(g)
        jobs = tuple(job for job in demand.jobs if job.request not in gone)
        pinned = tuple(block for block in demand.pinned if block.request not in gone)
        if not draft.options.stay[option]:
            return asking.ask(siteday, Demand((*jobs, job), pinned, demand.care))
        block = pin_of(draft.problem, g, request, job.minutes, job.profile)
        if block is None:
            return None
        return asking.ask(siteday, Demand(jobs, (*pinned, block), demand.care))

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
