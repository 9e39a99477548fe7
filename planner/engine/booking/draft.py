"""The plan under construction: who is where, what each site-day looks like, what it costs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.options import Options
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block
from planner.engine.booking.timetable.demand import Demand, Job, Timetable
from planner.engine.units import DAY, told


@dataclass(frozen=True, slots=True)
class Saved:
    """A draft's places and days at some moment."""

    place: NDArray[np.int64]
    days: list[Timetable]
    version: NDArray[np.int64]


@dataclass(slots=True)
class Draft:
    """``place[r]`` is the option that request ``r`` has (-1: left out); ``days`` the timetables.

    ``care[c]`` is (siteday, block) of placed care. ``version[g]`` names the state of a day: where
    it is the same, so is the day.
    """

    problem: Problem
    options: Options
    place: NDArray[np.int64]
    days: list[Timetable]
    care: dict[int, tuple[int, Block]] = field(default_factory=dict)
    version: NDArray[np.int64] = field(init=False)
    fixed_cost: float = field(init=False)
    _changes: int = 0

    def __post_init__(self) -> None:
        self.version = np.zeros(len(self.days), dtype=np.int64)
        self.fixed_cost = fixed_cost(self.problem)

    def cost(self) -> float:
        """The objective of the draft."""
        requests = len(self.problem.network.requests)
        booked = self.place >= 0
        cost = float(self.options.cost[self.place[booked]].sum())
        return cost + float(self.options.unbooked[:requests][~booked].sum()) + self.fixed_cost

    def booked(self) -> int:
        """How many requests have a place, fixed appointments included."""
        return int((self.place >= 0).sum()) + len(self.problem.fixed_of)

    def saving(self, request: int, option: int) -> float:
        """What a place saves against leaving the request out."""
        return float(self.options.unbooked[request] - self.options.cost[option])

    def job(self, option: int) -> Job:
        """An option as a job for its site-day."""
        options = self.options
        return Job(
            int(options.request[option]), int(options.profile[option]), int(options.minutes[option])
        )

    def set_day(self, timetable: Timetable) -> None:
        """Put a timetable in force."""
        self.days[timetable.siteday] = timetable
        self._changes += 1
        self.version[timetable.siteday] = self._changes

    def save(self) -> Saved:
        """The places and days as they are, to come back to."""
        return Saved(self.place.copy(), list(self.days), self.version.copy())

    def restore(self, saved: Saved) -> None:
        """Come back to what was saved."""
        self.place[:] = saved.place
        self.days[:] = saved.days
        self.version[:] = saved.version

    def demand(self, g: int) -> Demand:
        """What the site-day holds now, as a demand that could be packed again."""
        day = self.days[g]
        return Demand(tuple(slot.job for slot in day.slots), day.pinned, day.care)


def fixed_cost(problem: Problem) -> float:
    """The objective's share of fixed appointments, which no plan can change."""
    network = problem.network
    cost = network.policy.cost
    total = 0.0
    for r, item in problem.fixed_of.items():
        request = network.requests[r]
        site = network.stations[problem.index.station[item.station]].site
        travel = next(choice.travel for choice in request.sites if choice.site == site)
        day = item.start // DAY
        late = cost.late_day * max(0, day - request.due)
        total += request.weight * (late + cost.wait_day * (day - request.release))
        total += cost.travel_minute * travel
    return total


def pin_of(problem: Problem, g: int, request: int, minutes: int, profile: int) -> Block | None:
    """A movable appointment as a block of its site-day, or None where it cannot stay.

    It may start at any minute that rounds down to the time its subject was told; the planned
    length may have changed since.
    """
    network, siteday = problem.network, problem.sitedays[g]
    item = problem.movable_of[request]
    station = problem.index.station[item.station]
    person = problem.index.technician[item.technician]
    asked = network.requests[request]
    needs = problem.needs
    if station not in siteday.stations or not needs.station_ok[needs.feature_of[request], station]:
        return None
    if not needs.technician_ok[needs.skill_of[request, profile], person]:
        return None
    place = siteday.stations.index(station)
    base = siteday.day * DAY
    first = told(item.start, network.grain)
    tries = [item.start, *range(first, first + network.grain)]
    for start in tries:
        minute = start - base
        fits = not asked.available or any(
            window.start <= start and start + minutes <= window.end for window in asked.available
        )
        if not 0 <= minute < DAY or not fits or siteday.station_run[place, minute] < minutes:
            continue
        for w, worker in enumerate(siteday.workers):
            if worker.technician == person and siteday.worker_run[w, minute] >= minutes:
                return Block(minute, minutes, place, w, profile, request)
    return None
