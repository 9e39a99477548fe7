"""The whole network as one CP-SAT model, to the minute: rules 1 to 8, everything at once.

For each request and each site-day that it may go to one start, one literal for being there, and one
optional interval for each able station and each able technician. Care and breaks are intervals
with starts of their own. The rows of a day's minutes are implied, and help the bound.
"""

from __future__ import annotations

import math
import time
from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.engine.booking.draft import fixed_cost
from planner.engine.booking.fixed import check_fixed
from planner.engine.units import DAY, told
from tests.bench.rivals.answer import Answer, Ask, NoPlan, Seat, Seated
from tests.bench.rivals.ground import Choice, Ground, intervals, lowest, place_cost, span

SCALE = 1000
"""Costs are whole thousandths in the model, rounded down, so that its bound stays a bound."""

Literal = cp_model.IntVar


@dataclass(frozen=True, slots=True)
class Place:
    """A request on one site-day: present or not, its start, and who and what it takes."""

    choice: Choice
    present: Literal
    start: cp_model.IntVar
    stations: dict[int, Literal]
    workers: dict[int, Literal]


@dataclass(frozen=True, slots=True)
class CarePlace:
    """Care on one site-day; no workers where it needs none."""

    siteday: int
    present: Literal
    start: cp_model.IntVar
    workers: dict[int, Literal]


def monolith(ask: Ask) -> Answer:
    """Build and solve within the seconds. Raises NoPlan where they do not suffice for a plan."""
    return build(ask).solve(ask)


def build(ask: Ask) -> Monolith:
    """The model. Raises NoPlan where the seconds do not suffice to build it."""
    until = time.monotonic() + ask.seconds
    check_fixed(ask.network)
    return Monolith(Ground(ask.network, dict(ask.lengths)), until)


class Monolith:
    """The model; a table of contents of the rules is its constructor."""

    def __init__(self, ground: Ground, until: float) -> None:
        self.ground, self.problem, self.until = ground, ground.problem, until
        self.cp = cp_model.CpModel()
        self.busy: dict[tuple[str, int, int], list[cp_model.IntervalVar]] = {}
        self.cost: list[cp_model.LinearExprT] = []
        self.weight: list[int] = []
        self.places: dict[int, list[Place]] = {}
        self.of_day: list[list[tuple[int, Place]]] = [[] for _ in self.problem.sitedays]
        self.care: dict[int, list[CarePlace]] = {}
        self.care_of_day: list[list[tuple[int, CarePlace]]] = [[] for _ in self.problem.sitedays]
        self.rests: dict[tuple[int, int], cp_model.IntVar] = {}
        self.out: dict[int, Literal] = {}
        self.moved: dict[int, Literal] = {}
        self.some: dict[int, Literal] = {}
        self.shared: dict[tuple[int, int], tuple[cp_model.IntVar, int, list[int]]] = {}
        self._standing()
        self._breaks()
        for c in range(len(ground.network.care)):
            self._care(c)
        for r in range(len(ground.network.requests)):
            if r not in self.problem.fixed_of:
                self._request(r)
                self._in_time()
        for spans in self.busy.values():
            self.cp.add_no_overlap(spans)
        for g in range(len(self.problem.sitedays)):
            self._minutes_of_day(g)

    def _in_time(self) -> None:
        if time.monotonic() > self.until:
            raise NoPlan("no plan in time: the model was not built")

    def _take(
        self, kind: str, g: int, place: int, start: cp_model.LinearExprT, minutes: int,
        present: Literal | None = None,
    ) -> None:  # fmt: skip
        if present is None:
            one = self.cp.new_fixed_size_interval_var(start, minutes, "")
        else:
            one = self.cp.new_optional_fixed_size_interval_var(start, minutes, present, "")
        self.busy.setdefault((kind, g, place), []).append(one)

    def _standing(self) -> None:
        """Closed times, time off shift, fixed appointments and breaks that have their time."""
        for g, day in enumerate(self.ground.days):
            for kind, masks in (("station", day.station), ("worker", day.worker)):
                for place, free in enumerate(masks):
                    for first, last in intervals(span(0, DAY) & ~free):
                        self._take(kind, g, place, first, last - first + 1)

    def _breaks(self) -> None:
        for g, siteday in enumerate(self.problem.sitedays):
            for w, worker in enumerate(siteday.workers):
                if worker.break_minutes:
                    bits = self.ground.days[g].break_starts(w)
                    start = self._start(bits)
                    self._take("worker", g, w, start, worker.break_minutes)
                    self.rests[g, w] = start

    def _start(self, bits: int) -> cp_model.IntVar:
        domain = cp_model.Domain.from_intervals(intervals(bits))
        return self.cp.new_int_var_from_domain(domain, "")

    def _care(self, c: int) -> None:
        network = self.ground.network
        care = network.care[c]
        station = self.problem.index.station[care.station]
        site = self.problem.index.site[network.stations[station].site]
        found = self.care.setdefault(c, [])
        for day in range(max(0, care.earliest), min(care.latest, network.days - 1) + 1):
            g = self.problem.at.get((site, day))
            if g is None:
                continue
            bits = self.ground.days[g]
            place = self.problem.sitedays[g].stations.index(station)
            starts = bits.station_starts(place, care.minutes)
            able = range(len(bits.worker)) if care.technician else ()
            if not starts or (care.technician and not able):
                continue
            present, start = self.cp.new_bool_var(""), self._start(starts)
            self._take("station", g, place, start, care.minutes, present)
            workers = {}
            if care.technician:
                workers = self._one_of("worker", g, list(able), start, care.minutes, present)
            found.append(CarePlace(g, present, start, workers))
            self.care_of_day[g].append((c, found[-1]))
        if not found:
            raise NoPlan(f"care {care.id} fits nowhere")
        self.cp.add_exactly_one(place.present for place in found)

    def _one_of(
        self, kind: str, g: int, able: list[int], start: cp_model.IntVar, minutes: int,
        present: Literal,
    ) -> dict[int, Literal]:  # fmt: skip
        """One literal and one interval for each able thing; exactly one where present."""
        found = {k: present if len(able) == 1 else self.cp.new_bool_var("") for k in able}
        if len(able) > 1:
            self.cp.add_exactly_one([*found.values(), present.negated()])
        for k, literal in found.items():
            self._take(kind, g, k, start, minutes, literal)
        return found

    def _request(self, r: int) -> None:
        places = self.places.setdefault(r, [])
        for choice in self._choices(r):
            starts = self.ground.starts(r, choice)
            if not starts:
                continue
            g, minutes = choice.siteday, choice.minutes
            stations, workers = self.ground.able(r, g)
            present, start = self.cp.new_bool_var(""), self._start(starts)
            at = self._one_of("station", g, stations, start, minutes, present)
            by = self._one_of("worker", g, workers, start, minutes, present)
            places.append(Place(choice, present, start, at, by))
            self.of_day[g].append((r, places[-1]))
            self._charge(choice.cost, present)
        out = self.out[r] = self.cp.new_bool_var("")
        self._charge(self.ground.left_out(r), out)
        self.cp.add_exactly_one([out, *(place.present for place in places)])
        if r in self.problem.movable_of:
            moved = self.moved[r] = self.cp.new_bool_var("")
            self._charge(self.ground.network.policy.cost.move, moved)
            self._may_stay(r, places, moved)

    def _choices(self, r: int) -> list[Choice]:
        """Where a request may go; for one that is booked its own place, whatever it costs."""
        found = list(self.ground.choices(r))
        item = self.problem.movable_of.get(r)
        if item is not None:
            network, problem = self.ground.network, self.problem
            site = network.stations[problem.index.station[item.station]].site
            day = item.start // DAY
            g = problem.at.get((problem.index.site[site], day))
            request = network.requests[r]
            near = [choice for choice in request.sites if choice.site == site]
            if g is not None and near and day >= request.release:
                cost = place_cost(network, request, day, near[0].travel)
                if all(choice.siteday != g for choice in found):
                    found.append(Choice(g, self.ground.minutes(r, site), cost))
        return found

    def _charge(self, cost: float, literal: Literal) -> None:
        self.cost.append(literal)
        self.weight.append(int(cost * SCALE + 1e-6))

    def _may_stay(self, r: int, places: list[Place], moved: Literal) -> None:
        """Not ``moved`` means: same station, same technician, same told time."""
        item, problem = self.problem.movable_of[r], self.problem
        station = problem.index.station[item.station]
        person = problem.index.technician[item.technician]
        stays = moved.negated()
        for place in places:
            siteday = problem.sitedays[place.choice.siteday]
            first = told(item.start, self.ground.network.grain) - siteday.day * DAY
            if siteday.day != item.start // DAY or station not in siteday.stations:
                continue
            at = place.stations.get(siteday.stations.index(station))
            by = [on for w, on in place.workers.items() if siteday.workers[w].technician == person]
            if at is not None and by:
                self.cp.add_implication(stays, at)
                self.cp.add_bool_or([*by, moved])
                last = min(first + self.ground.network.grain, DAY) - 1
                self.cp.add(place.start >= first).only_enforce_if(stays)
                self.cp.add(place.start <= last).only_enforce_if(stays)
                return
        self.cp.add(moved == 1)

    def _minutes_of_day(self, g: int) -> None:
        """Implied rows of a day's minutes, and rule 8."""
        ground, siteday = self.ground, self.problem.sitedays[g]
        places = self.of_day[g]
        if not places:
            return
        taken = [place.choice.minutes * place.present for _, place in places]
        care = [(ground.network.care[c], place) for c, place in self.care_of_day[g]]
        care_at = [item.minutes * place.present for item, place in care]
        care_by = [item.minutes * place.present for item, place in care if item.technician]
        rests = [self._rest_inside(g, w) for w in range(len(siteday.workers))]
        fixed = sum(block.minutes for block in siteday.fixed if block.request >= 0)
        stations, workers = ground.stations_room(g), ground.workers_room(g)
        self.cp.add(sum(taken + care_at) <= stations - fixed)
        self.cp.add(sum(taken + care_by + rests) <= workers - fixed)
        if siteday.reserve:
            plain = [
                place.choice.minutes * place.present
                for r, place in places
                if not ground.is_rework(r)
            ]
            some = self.some[g] = self.cp.new_bool_var("")
            self.cp.add(sum(plain) == 0).only_enforce_if(some.negated())
            less = siteday.reserve + ground.fixed_plain(g)
            self.cp.add(sum(plain + care_at) <= stations - less).only_enforce_if(some)
            self.cp.add(sum(plain + care_by + rests) <= workers - less).only_enforce_if(some)

    def _rest_inside(self, g: int, w: int) -> cp_model.LinearExprT:
        """Minutes of a worker's break that lie in opening hours."""
        start = self.rests.get((g, w))
        if start is None:
            return 0
        rest, window = self.ground.days[g].rest[w]
        first, last = lowest(window), window.bit_length() - rest
        is_open = self.ground.days[g].is_open
        table = [(is_open & span(at, at + rest)).bit_count() for at in range(first, last + 1)]
        if len(set(table)) == 1:
            return table[0]
        shared = self.cp.new_int_var(0, rest, "")
        self.cp.add_element(start - first, table, shared)
        self.shared[g, w] = (shared, first, table)
        return shared

    def solve(self, ask: Ask) -> Answer:
        """The best plan found. Raises NoPlan where there is none."""
        self._in_time()
        self.cp.minimize(cp_model.LinearExpr.weighted_sum(self.cost, self.weight))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = max(1, ask.workers)
        solver.parameters.random_seed = ask.seed
        solver.parameters.max_time_in_seconds = max(0.1, self.until - time.monotonic())
        if ask.effort is not None:
            solver.parameters.max_deterministic_time = float(ask.effort)
        status = solver.status_name(solver.solve(self.cp))
        if status not in ("OPTIMAL", "FEASIBLE"):
            raise NoPlan("no plan in time" if status == "UNKNOWN" else f"ended as {status}")
        floor = solver.best_objective_bound / SCALE + fixed_cost(self.problem)
        bound = floor if math.isfinite(floor) and floor > 0 else 0.0
        word = "proved best" if status == "OPTIMAL" else ""
        return Answer(self._read(solver).plan(self.ground, bound), bound, word)

    def _read(self, solver: cp_model.CpSolver) -> Seated:
        found = Seated()
        for r, places in self.places.items():
            for place in places:
                if solver.value(place.present):
                    at = next(k for k, on in place.stations.items() if solver.value(on))
                    by = next(k for k, on in place.workers.items() if solver.value(on))
                    choice, start = place.choice, solver.value(place.start)
                    found.seats.append(Seat(r, choice.siteday, at, by, start, choice.minutes))
        for c, options in self.care.items():
            put = next(place for place in options if solver.value(place.present))
            helper = next((w for w, on in put.workers.items() if solver.value(on)), -1)
            found.care[c] = (put.siteday, solver.value(put.start), helper)
        found.rests = {key: solver.value(start) for key, start in self.rests.items()}
        return found
