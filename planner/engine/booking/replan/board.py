"""The board of a re-plan: everything in its place, to the minute, and what is free beside it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.problem import Problem, profile_at
from planner.engine.booking.siteday import Block, SiteDay, runs
from planner.engine.units import DAY, told

Ints = NDArray[np.int32]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Spot:
    """A place: the site-day and the block in it."""

    g: int
    block: Block


@dataclass(slots=True)
class Board:
    """Where everybody is. ``problem`` is frozen: its breaks stand as blocks.

    ``spots`` and ``care`` map a request, or a care, to its place; ``days[g]`` holds the bookings
    of a site-day. Fixed appointments are blocks of their site-day and in neither. ``version[g]``
    marks what stands on a site-day, ``state`` what stands anywhere: whoever goes and comes back to
    the same place leaves both as they were.
    """

    problem: Problem
    spots: dict[int, Spot] = field(default_factory=dict)
    care: dict[int, Spot] = field(default_factory=dict)
    days: list[dict[int, Block]] = field(init=False)
    version: list[int] = field(init=False)
    state: int = 0
    _runs: dict[int, tuple[int, Ints, Ints]] = field(default_factory=dict)
    _longest: dict[int, tuple[int, int]] = field(default_factory=dict)
    _care_on: dict[int, set[int]] = field(default_factory=dict)
    _blocks: dict[int, tuple[int, list[int], Ints]] = field(default_factory=dict)
    _roomy: set[int] = field(default_factory=set)
    _stale: set[int] = field(init=False)
    _shortest: int = field(init=False)

    def __post_init__(self) -> None:
        self.days = [{} for _ in self.problem.sitedays]
        self.version = [0] * len(self.days)
        self._stale = set(range(len(self.days)))
        self._shortest = int(min(self.problem.lengths, default=1))

    def mark(self, g: int, what: object) -> None:
        """Something comes to a site-day, or goes from it."""
        self.version[g] ^= hash(what)
        self.state ^= hash((g, what))
        self._stale.add(g)

    def put(self, request: int, spot: Spot) -> None:
        """Give a request a place; it has none."""
        self.spots[request] = spot
        self.days[spot.g][request] = spot.block
        self.mark(spot.g, (request, spot.block))

    def take(self, request: int) -> Spot:
        """Take a request out of its place; returns the place."""
        spot = self.spots.pop(request)
        del self.days[spot.g][request]
        self.mark(spot.g, (request, spot.block))
        return spot

    def put_care(self, care: int, spot: Spot) -> None:
        """Give care a place; it has none."""
        self.care[care] = spot
        self._care_on.setdefault(spot.g, set()).add(care)
        self.mark(spot.g, (-1 - care, spot.block))

    def take_care(self, care: int) -> Spot:
        """Take care out of its place; returns the place."""
        spot = self.care.pop(care)
        self._care_on[spot.g].discard(care)
        self.mark(spot.g, (-1 - care, spot.block))
        return spot

    def care_on(self, g: int) -> list[tuple[int, Block]]:
        """The care placed on a site-day, in the network's order."""
        return [(care, self.care[care].block) for care in sorted(self._care_on.get(g, ()))]

    def standing(self, g: int) -> list[Block]:
        """What stands on a site-day besides bookings: fixed appointments, breaks and care."""
        return [*self.problem.sitedays[g].fixed, *(block for _, block in self.care_on(g))]

    def blocks(self, g: int) -> tuple[list[int], Ints]:
        """The requests booked on a site-day, and their blocks: start, minutes, station, worker."""
        known = self._blocks.get(g)
        if known is None or known[0] != self.version[g]:
            mine = self.days[g]
            table = [(b.start, b.minutes, b.station, b.worker) for b in mine.values()]
            found = np.array(table, dtype=np.int32).reshape(len(table), 4)
            known = self._blocks[g] = (self.version[g], [*mine], found)
        return known[1], known[2]

    def roomy(self) -> set[int]:
        """The site-days on which something of the shortest planned length could still start."""
        for g in self._stale:
            if self.longest(g) >= self._shortest:
                self._roomy.add(g)
            else:
                self._roomy.discard(g)
        self._stale.clear()
        return self._roomy

    def runs(self, g: int) -> tuple[Ints, Ints]:
        """Minutes from each minute on that stations, and workers, are free: (things, 1440)."""
        known = self._runs.get(g)
        if known is None or known[0] != self.version[g]:
            blocks = [*self.standing(g), *self.days[g].values()]
            known = (self.version[g], *cut_runs(self.problem.sitedays[g], blocks))
            self._runs[g] = known
        return known[1], known[2]

    def longest(self, g: int) -> int:
        """The longest time at which some station and some worker are free together."""
        known = self._longest.get(g)
        if known is None or known[0] != self.version[g]:
            stations, workers = self.runs(g)
            both = 0
            if len(stations) and len(workers):
                both = int(np.minimum(stations.max(axis=0), workers.max(axis=0)).max())
            known = (self.version[g], both)
            self._longest[g] = known
        return known[1]


def cut_runs(siteday: SiteDay, blocks: list[Block]) -> tuple[Ints, Ints]:
    """The site-day's free runs, cut so that none reaches into a block."""
    stations = (siteday.station_run > 0).astype(np.int32)
    workers = (siteday.worker_run > 0).astype(np.int32)
    for block in blocks:
        end = block.start + block.minutes
        if block.station >= 0:
            stations[block.station, block.start : end] = 0
        if block.worker >= 0:
            workers[block.worker, block.start : end] = 0
    # The site-day's own runs know where an opening interval begins that none may run into.
    free = np.minimum(runs(stations, set()), siteday.station_run)
    return free[:, :DAY], np.minimum(runs(workers, set()), siteday.worker_run)[:, :DAY]


@dataclass(slots=True)
class Costs:
    """What places cost a request, under the objective; a move is charged on its own."""

    problem: Problem
    _charges: dict[tuple[int, int], float] = field(default_factory=dict)
    _minutes: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)
    _places: dict[int, list[tuple[float, int]]] = field(default_factory=dict)

    def charge(self, request: int, g: int) -> float:
        """Late days, days of waiting and travel of a booking on a site-day."""
        key = (request, g)
        found = self._charges.get(key)
        if found is None:
            network, siteday = self.problem.network, self.problem.sitedays[g]
            item, cost = network.requests[request], network.policy.cost
            site = network.sites[siteday.site].id
            travel = next(choice.travel for choice in item.sites if choice.site == site)
            late = cost.late_day * max(0, siteday.day - item.due)
            wait = cost.wait_day * max(0, siteday.day - item.release)
            found = self._charges[key] = item.weight * (late + wait) + cost.travel_minute * travel
        return found

    def out(self, request: int) -> float:
        """The cost of leaving a request out, without a move."""
        network = self.problem.network
        item = network.requests[request]
        each = network.policy.cost.unbooked if item.unbooked is None else item.unbooked
        return item.weight * each

    def of(self, request: int, spot: Spot | None) -> float:
        """What a request costs in a place, or without one, its move included."""
        move = 0.0
        if request in self.problem.movable_of and not (spot and self.at_home(request, spot)):
            move = self.problem.network.policy.cost.move
        return move + (self.out(request) if spot is None else self.charge(request, spot.g))

    def at_home(self, request: int, spot: Spot) -> bool:
        """Whether a place has the station, technician and told time of the appointment."""
        problem = self.problem
        item = problem.movable_of[request]
        siteday = problem.sitedays[spot.g]
        station = problem.network.stations[siteday.stations[spot.block.station]].id
        person = siteday.workers[spot.block.worker].technician
        grain = problem.network.grain
        start = siteday.day * DAY + spot.block.start
        return (station, problem.network.technicians[person].id, told(start, grain)) == (
            item.station, item.technician, told(item.start, grain),
        )  # fmt: skip

    def minutes(self, request: int, g: int) -> tuple[int, int]:
        """Planned minutes and profile of a request at a site-day's site."""
        key = (request, self.problem.sitedays[g].site)
        found = self._minutes.get(key)
        if found is None:
            profile = profile_at(self.problem, *key)
            found = self._minutes[key] = (int(self.problem.lengths[profile]), profile)
        return found

    def places(self, request: int) -> list[tuple[float, int]]:
        """(charge, site-day) of every day on which booking is worth it, the cheapest first."""
        known = self._places.get(request)
        if known is not None:
            return known
        problem = self.problem
        item, most = problem.network.requests[request], self.out(request)
        found = []
        for choice in item.sites:
            site = problem.index.site[choice.site]
            for day in range(max(0, item.release), problem.network.days):
                g = problem.at.get((site, day))
                if g is not None and (charge := self.charge(request, g)) < most:
                    found.append((charge, g))
        found.sort()
        self._places[request] = found
        return found
