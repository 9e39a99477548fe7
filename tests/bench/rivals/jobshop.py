"""The network as a job shop for PyJobShop, as far as its language goes; solved by CP-SAT.

Stations and technicians of a site-day are machines; what stands there are the machines' breaks. A
request is a job of optional tasks, one for each stretch of time in which it may be served, of which
exactly one is chosen; a mode is a station with a technician. `CANNOT` lists what it cannot say.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

import pyjobshop  # type: ignore[import-untyped]  # pyjobshop ships no types

from planner.engine.booking.fixed import check_fixed
from planner.engine.units import DAY, told
from tests.bench.rivals.answer import Answer, Ask, NoPlan, Seat, Seated
from tests.bench.rivals.ground import Choice, Ground, intervals, lowest, span

CANNOT = (
    "cost by calendar day: tardiness and flow time in minutes stand for late and waiting days",
    "leaving a request out at a price: a task without resources stands for it, so long that its "
    "flow time and tardiness cost what leaving out does",
    "travel, and the cost of a move: modes have no costs, so sites are alike, and who is booked "
    "keeps the place or is left out",
    "breaks as part of rule 8's room: every break is counted whole",
    "the promises (rule 9): no task has a random length",
)
"""What its language cannot say, and what stands for it here."""

CENTS = 100
"""Costs per day and weights are whole hundredths, as its objective wants whole numbers."""


@dataclass(frozen=True, slots=True)
class Task:
    """What a task stands for: a request (or -1), care (or -1), or a break; and its site-day."""

    siteday: int
    request: int = -1
    care: int = -1
    rest: int = -1


def jobshop(ask: Ask) -> Answer:
    """Build and solve within the seconds. Raises NoPlan where they do not suffice for a plan."""
    until = time.monotonic() + ask.seconds
    check_fixed(ask.network)
    shop = Shop(Ground(ask.network, dict(ask.lengths)), until)
    return shop.solve(ask)


class Shop:
    """The model, and what its tasks and modes stand for, by their places in its lists."""

    def __init__(self, ground: Ground, until: float) -> None:
        self.ground, self.problem, self.until = ground, ground.problem, until
        self.model = pyjobshop.Model()
        self.tasks: list[Task | None] = []
        self.modes: list[tuple[int, int]] = []
        self.stations: list[list[object]] = []
        self.workers: list[list[object]] = []
        self.held: list[list[object]] = []
        self.whole = all(float(item.weight).is_integer() for item in ground.network.requests)
        self.anywhere = self.model.add_consumable(max(1, len(ground.network.requests)))
        for g in range(len(self.problem.sitedays)):
            self._siteday(g)
        for c in range(len(ground.network.care)):
            self._care(c)
        for r in range(len(ground.network.requests)):
            if r not in self.problem.fixed_of:
                self._request(r)
                if time.monotonic() > until:
                    raise NoPlan("no plan in time: the model was not built")
        cost = ground.network.policy.cost
        self.model.set_objective(
            weight_total_flow_time=round(cost.wait_day * CENTS),
            weight_total_tardiness=round(cost.late_day * CENTS),
        )

    def _siteday(self, g: int) -> None:
        """Machines with the times that are taken; breaks as tasks; rule 8 as consumables."""
        day, siteday = self.ground.days[g], self.problem.sitedays[g]
        base = siteday.day * DAY

        def machine(free: int) -> object:
            taken = intervals(span(0, DAY) & ~free)
            spans = [(base + first, base + last + 1) for first, last in taken]
            return self.model.add_machine(breaks=spans)

        self.stations.append([machine(free) for free in day.station])
        self.workers.append([machine(free) for free in day.worker])
        for w, worker in enumerate(siteday.workers):
            if worker.break_minutes:
                low, high = base + worker.break_start, base + worker.break_end
                task = self._task(None, low, high, Task(g, rest=w))
                self._mode(task, [self.workers[g][w]], worker.break_minutes, (-1, w))
        self.held.append([])
        if siteday.reserve:
            less = siteday.reserve + self.ground.fixed_plain(g)
            breaks = sum(worker.break_minutes for worker in siteday.workers)
            rooms = self.ground.stations_room(g), self.ground.workers_room(g) - breaks
            self.held[g] = [self.model.add_consumable(max(0, room - less)) for room in rooms]

    def _task(self, job: object, low: int, high: int, stands_for: Task | None, *,
              optional: bool = False) -> object:  # fmt: skip
        self.tasks.append(stands_for)
        return self.model.add_task(
            job, earliest_start=max(0, low), latest_end=high, optional=optional
        )

    def _mode(self, task: object, what: list[object], minutes: int, who: tuple[int, int],
              demands: list[int] | None = None) -> None:  # fmt: skip
        self.model.add_mode(task, what, minutes, demands or [0] * len(what))
        self.modes.append(who)

    def _care(self, c: int) -> None:
        """Care on one of the days of its window; it lessens the room of rule 8."""
        network, care = self.ground.network, self.ground.network.care[c]
        station = self.problem.index.station[care.station]
        site = self.problem.index.site[network.stations[station].site]
        tasks = []
        for day in range(max(0, care.earliest), min(care.latest, network.days - 1) + 1):
            g = self.problem.at.get((site, day))
            if g is None:
                continue
            place = self.problem.sitedays[g].stations.index(station)
            helpers = range(len(self.workers[g])) if care.technician else (-1,)
            for low, high in self.problem.sitedays[g].opens:
                if high - low < care.minutes or not helpers:
                    continue
                task = self._task(
                    None, day * DAY + low, day * DAY + high, Task(g, care=c), optional=True
                )
                tasks.append(task)
                for w in helpers:
                    what = [self.stations[g][place], *([self.workers[g][w]] if w >= 0 else [])]
                    held = self.held[g] if w >= 0 else self.held[g][:1]
                    used = [0] * len(what) + [care.minutes] * len(held)
                    self._mode(task, [*what, *held], care.minutes, (place, w), used)
        if not tasks:
            raise NoPlan(f"care {care.id} fits nowhere")
        self.model.add_select_exactly_one(tasks)

    def _request(self, r: int) -> None:
        request = self.ground.network.requests[r]
        job = self.model.add_job(
            weight=round(request.weight) if self.whole else round(request.weight * CENTS),
            release_date=max(0, request.release) * DAY,
            due_date=max(0, (request.due + 1) * DAY),
        )
        stays = self._stays(r, job)
        tasks = stays or [
            task for choice in self.ground.choices(r) for task in self._places(r, job, choice)
        ]
        low = max(0, request.release) * DAY
        out = self._task(job, low, low + self._out_minutes(r), None, optional=True)
        self._mode(out, [self.anywhere], self._out_minutes(r), (-1, -1), [1])
        self.model.add_select_exactly_one([*tasks, out])

    def _places(self, r: int, job: object, choice: Choice) -> list[object]:
        """One task for each stretch of a site-day in which a request may be served."""
        g, minutes = choice.siteday, choice.minutes
        base = self.problem.sitedays[g].day * DAY
        starts = self.ground.starts(r, choice)
        found = []
        for opening in self.ground.days[g].opens:
            for first, last in intervals(self.ground.open_to(r, g, minutes) & opening):
                within = span(first, last + 1) & starts
                if not within:
                    continue
                low, high = lowest(within), within.bit_length() - 1 + minutes
                task = self._task(job, base + low, base + high, Task(g, r), optional=True)
                found.append(task)
                stations, workers = self.ground.able(r, g)
                for k in stations:
                    for w in workers:
                        self._seat_mode(task, r, g, (k, w), minutes)
        return found

    def _seat_mode(self, task: object, r: int, g: int, who: tuple[int, int], minutes: int) -> None:
        """A mode of a booking; what is not rework uses up the minutes that are not reserved."""
        held = [] if self.ground.is_rework(r) else self.held[g]
        what = [self.stations[g][who[0]], self.workers[g][who[1]], *held]
        self._mode(task, what, minutes, who, [0, 0, *(minutes for _ in held)])

    def _stays(self, r: int, job: object) -> list[object]:
        """Who is booked stays at station, technician and told time, where that is possible."""
        item, problem = self.problem.movable_of.get(r), self.problem
        if item is None:
            return []
        station, day = problem.index.station[item.station], item.start // DAY
        network = self.ground.network
        site = network.stations[station].site
        g = problem.at.get((problem.index.site[site], day))
        if g is None or day < network.requests[r].release:
            return []
        minutes = self.ground.minutes(r, site)
        choice = Choice(g, minutes, 0.0)
        siteday = problem.sitedays[g]
        place, person = siteday.stations.index(station), problem.index.technician[item.technician]
        first = told(item.start, network.grain) - day * DAY
        stations, workers = self.ground.able(r, g)
        bits = self.ground.days[g]
        free = self.ground.starts(r, choice) & bits.station_starts(place, minutes)
        for w in workers:
            within = free & bits.worker_starts(w, minutes) & span(first, first + network.grain)
            if siteday.workers[w].technician == person and place in stations and within:
                low, high = lowest(within), within.bit_length() - 1 + minutes
                base = day * DAY
                task = self._task(job, base + low, base + high, Task(g, r), optional=True)
                self._seat_mode(task, r, g, (place, w), minutes)
                return [task]
        return []

    def _out_minutes(self, r: int) -> int:
        """How long the task of leaving out must be to cost, by flow time and tardiness, the same.

        What a release before the horizon or an earlier due date adds to every place is left away
        on both sides.
        """
        request, cost = self.ground.network.requests[r], self.ground.network.policy.cost
        low, due = max(0, request.release), max(0, request.due + 1)
        worth = self.ground.left_out(r) / request.weight
        worth -= cost.wait_day * (low - request.release)
        worth -= cost.late_day * max(0, low - request.due - 1)
        slack = max(0, due - low)
        days = worth / cost.wait_day if cost.wait_day else math.inf
        if days > slack and cost.wait_day + cost.late_day > 0:
            days = (worth + cost.late_day * slack) / (cost.wait_day + cost.late_day)
        return max(1, math.ceil(min(days, 10_000) * DAY))

    def solve(self, ask: Ask) -> Answer:
        """The best plan found. Raises NoPlan where there is none."""
        left = self.until - time.monotonic()
        if left <= 0:
            raise NoPlan("no plan in time: the model was not built")
        result = self.model.solve(
            time_limit=left, display=False, num_workers=max(1, ask.workers), random_seed=ask.seed
        )
        if not math.isfinite(result.objective):
            over = result.status == pyjobshop.SolveStatus.INFEASIBLE
            raise NoPlan("ended as INFEASIBLE" if over else "no plan in time")
        seated = Seated()
        for stands_for, task in zip(self.tasks, result.best.tasks, strict=True):
            if stands_for is None or not task.present:
                continue
            g = stands_for.siteday
            start = int(task.start) - self.problem.sitedays[g].day * DAY
            station, worker = self.modes[task.mode]
            if stands_for.request >= 0:
                seat = Seat(stands_for.request, g, station, worker, start, int(task.duration))
                seated.seats.append(seat)
            elif stands_for.care >= 0:
                seated.care[stands_for.care] = (g, start, worker)
            else:
                seated.rests[g, stands_for.rest] = start
        return Answer(seated.plan(self.ground))
