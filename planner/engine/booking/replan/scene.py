"""A board with its costs and promises: what a change would cost, and whether it may be made."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

import numpy as np

from planner.engine.booking.replan.board import Board, Bools, Costs, Ints, Spot
from planner.engine.booking.replan.dayrun import DayRun
from planner.engine.booking.replan.judge import Broken, Hours, Judge, Risks
from planner.engine.booking.siteday import Block
from planner.engine.sessions.things import Thing
from planner.engine.units import DAY, told

Stretch = tuple[int, int, int, int]
"""A station, a worker, and the first and last minute at which something could start."""
KEPT = 24
"""Days whose draws are kept (4 MB for a day of 250 things)."""


@dataclass(slots=True)
class Scene:
    """The board, and what is needed to judge changes of it.

    ``before`` holds the risks of the old plan; ``origin[r]`` the place that a request had in it
    where that place is still open. ``gaps`` and ``able`` keep what `holes` found out, ``elsewhere``
    what `seat` did about the board's state ``elsewhere_at``.
    """

    board: Board
    costs: Costs
    judge: Judge
    hours: Hours
    before: Risks
    origin: dict[int, Spot]
    gaps: dict[tuple[object, ...], list[Stretch]] = field(default_factory=dict)
    able: dict[tuple[int, int], tuple[Ints, Ints, Bools]] = field(default_factory=dict)
    elsewhere: dict[int, float] = field(default_factory=dict)
    elsewhere_at: int = 0
    _groups: dict[int, tuple[int, ...]] = field(init=False)
    _kept: dict[tuple[object, ...], tuple[DayRun, set[str], set[str]]] = field(default_factory=dict)
    _refused: dict[tuple[int, ...], int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._groups = _groups(self.board)

    def accepts(self, g: int, block: Block) -> bool:
        """Whether a block may be added to a site-day with every promise of that date kept."""
        key = (g, block.start, block.minutes, block.station, block.worker, block.profile)
        if self._refused.get(key) == self.board.version[g]:
            return False
        group = self._groups[g]
        new = self.thing(g, block)
        run, decided, moved = self._run(group)
        decided, moved = decided | {new.key}, moved | {new.key}

        def too_long(request: str, risk: float) -> bool:
            return self.judge.waits_too_long(request, risk, self.before, decided, moved)

        risks = run.with_one_more(new, too_long)
        kept = not self.judge.broken(risks, self.before, decided, moved)
        if not kept:
            self._refused[key] = self.board.version[g]
        return kept

    def broken(self, sitedays: Iterable[int]) -> list[Broken]:
        """The promises broken on the dates of some site-days."""
        group = {h for g in sitedays for h in self._groups[g]}
        things = [thing for g in sorted(group) for thing in self.things(g)]
        risks = self.judge.risks(things, self.hours)
        return self.judge.broken(risks, self.before, *self._decided(group))

    def _decided(self, group: Iterable[int]) -> tuple[set[str], set[str]]:
        """The bookings of some site-days, and those of them that are not where they were."""
        requests = self.board.problem.network.requests
        decided, moved = set(), set()
        for g in group:
            for r in self.board.days[g]:
                decided.add(requests[r].id)
                if self.origin.get(r) is not self.board.spots[r]:
                    moved.add(requests[r].id)
        return decided, moved

    def _run(self, group: tuple[int, ...]) -> tuple[DayRun, set[str], set[str]]:
        """The group's day with all its draws, and its `_decided`; the last few are kept."""
        key = (group, *(self.board.version[g] for g in group))
        found = self._kept.pop(key, None)
        if found is None:
            base = self.board.problem.sitedays[group[0]].day * DAY
            things = [thing for g in group for thing in self.things(g)]
            found = DayRun(self.judge, self.hours, base, things), *self._decided(group)
            if len(self._kept) >= KEPT:
                del self._kept[next(iter(self._kept))]
        self._kept[key] = found
        return found

    def changed(self, touched: Iterable[int]) -> set[int]:
        """The site-days that are not as they were, with those that share their technicians.

        ``touched`` are those that differ in more than bookings.
        """
        found = set(touched)
        for r in self.origin.keys() | self.board.spots.keys():
            was, now = self.origin.get(r), self.board.spots.get(r)
            if was != now:
                found |= {spot.g for spot in (was, now) if spot is not None}
        return {h for g in found for h in self._groups[g]}

    def things(self, g: int) -> Iterator[Thing]:
        """What happens on a site-day."""
        siteday = self.board.problem.sitedays[g]
        for block in (*siteday.closed, *self.board.standing(g), *self.board.days[g].values()):
            yield self.thing(g, block)

    def thing(self, g: int, block: Block) -> Thing:
        """A block of a site-day as a thing of the day."""
        problem = self.board.problem
        network, siteday = problem.network, problem.sitedays[g]
        start = siteday.day * DAY + block.start
        station = siteday.stations[block.station] if block.station >= 0 else -1
        person = siteday.workers[block.worker].technician if block.worker >= 0 else -1
        if block.request < 0:
            return Thing(start, start, station, person, block.minutes, "", "")
        own = told(start, network.grain)
        profile = network.profiles[block.profile].id
        key = network.requests[block.request].id
        return Thing(start, own, station, person, block.minutes, key, profile)

    def holds_reserve(self, request: int, g: int, minutes: int) -> bool:
        """Whether a booking more would keep the day's reserve for rework (rule 8)."""
        problem = self.board.problem
        if not problem.sitedays[g].reserve or problem.network.requests[request].rework:
            return True
        return over_reserve(self.board, g) + minutes <= 0


def over_reserve(board: Board, g: int) -> int:
    """Minutes by which bookings that are not rework exceed the room less the reserve (rule 8).

    Negative where there is room left.
    """
    siteday, requests = board.problem.sitedays[g], board.problem.network.requests
    opens = np.zeros(DAY, dtype=np.bool_)
    for start, end in siteday.opens:
        opens[start:end] = True
    workers = (siteday.worker_run[:, :DAY] > 0) & opens
    stations = int((siteday.station_run[:, :DAY] > 0).sum())
    used = 0
    for block in [*siteday.fixed, *board.days[g].values()]:
        if block.request < 0:
            workers[block.worker, block.start : block.start + block.minutes] = False
        elif not requests[block.request].rework:
            used += block.minutes
    for _, block in board.care_on(g):
        stations -= block.minutes
        if block.worker >= 0:
            workers[block.worker, block.start : block.start + block.minutes] = False
    return used - (min(stations, int(workers.sum())) - siteday.reserve)


def _groups(board: Board) -> dict[int, tuple[int, ...]]:
    """For each site-day, those of its date that share a technician with it, however far."""
    by_person: dict[tuple[int, int], list[int]] = {}
    for siteday in board.problem.sitedays:
        for worker in siteday.workers:
            by_person.setdefault((siteday.day, worker.technician), []).append(siteday.index)
    group = {siteday.index: {siteday.index} for siteday in board.problem.sitedays}
    for members in by_person.values():
        merged = set().union(*(group[g] for g in members))
        for g in merged:
            group[g] = merged
    return {g: tuple(sorted(members)) for g, members in group.items()}
