"""An oracle: a whole network in one CP-SAT model, rules 1 to 8, written apart from the planner.

It reads the network alone and shares no code with `planner.engine.booking`. The promises of rule 9
are not in it, so its optimum is at most that of any plan with the same lengths, and equal to the
best plan's where the risks are 1 and promise nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.engine.network import Appointment, Care, Network, Request, Shift, SiteChoice, Window
from planner.engine.units import DAY, told

SCALE = 1000
"""Costs are whole thousandths in the model, rounded down, so that its bound stays a bound."""

Literal = cp_model.IntVar
Span = tuple[int, int]


@dataclass(slots=True)
class Resources:
    """Things that do one thing at a time; also the core of a plain job shop."""

    cp: cp_model.CpModel
    used: dict[str, list[cp_model.IntervalVar]] = field(default_factory=dict)

    def take(
        self,
        name: str,
        start: cp_model.LinearExprT,
        minutes: int,
        present: Literal | None = None,
    ) -> None:
        """Let ``name`` be busy for ``minutes`` from ``start`` on, where ``present`` holds."""
        if present is None:
            span = self.cp.new_fixed_size_interval_var(start, minutes, "")
        else:
            span = self.cp.new_optional_fixed_size_interval_var(start, minutes, present, "")
        self.used.setdefault(name, []).append(span)

    def close(self) -> None:
        """No resource is taken twice at a time."""
        for spans in self.used.values():
            self.cp.add_no_overlap(spans)


@dataclass(frozen=True, slots=True)
class Solved:
    """``cost`` of the best plan found, exact; ``bound`` proven; ``optimal`` if they meet.

    ``places`` has (site, station, technician, start) of every booked request that is not fixed.
    """

    cost: float
    bound: float
    optimal: bool
    places: dict[str, tuple[str, str, str, int]]


@dataclass(slots=True)
class _Place:
    """A request at one of its sites: where it may start, on which day, with what and whom."""

    choice: SiteChoice
    minutes: int
    start: cp_model.IntVar
    days: dict[int, Literal]
    stations: dict[str, Literal]
    shifts: dict[tuple[str, int], Literal]


class Monolith:
    """The model of a network with given planned lengths (minutes by profile id)."""

    def __init__(self, network: Network, lengths: dict[str, int]) -> None:
        self.network, self.lengths = network, lengths
        self.cp = cp_model.CpModel()
        self.things = Resources(self.cp)
        self.sites = {site.id: site for site in network.sites}
        self.stations = {station.id: station for station in network.stations}
        self.people = {person.id: person for person in network.technicians}
        self.skills = {profile.id: set(profile.skills) for profile in network.profiles}
        self.fixed = {item.request: item for item in network.appointments if item.fixed}
        self.movable = {item.request: item for item in network.appointments if not item.fixed}
        self.places: dict[str, list[_Place]] = {}
        self.costs: list[tuple[float, cp_model.LinearExprT]] = []
        self.constant = 0.0
        self.rests: list[tuple[Shift, cp_model.IntVar]] = []
        self.care_days: list[tuple[Care, dict[int, Literal]]] = []
        self.sound = True
        self._closures()
        self._breaks()
        for care in network.care:
            self._care(care)
        for request in network.requests:
            if request.id in self.fixed:
                self._stand(request, self.fixed[request.id])
            else:
                self._request(request)
        self.things.close()
        self._day_capacity()
        self._reserves()

    def solve(self, effort: float) -> Solved | None:
        """Solve on one thread within deterministic seconds; None where nothing is feasible.

        Raises RuntimeError where neither a plan nor a proof was found in the effort.
        """
        if not self.sound:
            return None
        scaled = sum(int(cost * SCALE + 1e-6) * literal for cost, literal in self.costs)
        self.cp.minimize(scaled)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        solver.parameters.linearization_level = 2
        solver.parameters.max_deterministic_time = effort
        status = solver.status_name(solver.solve(self.cp))
        if status == "INFEASIBLE":
            return None
        if status not in ("OPTIMAL", "FEASIBLE"):
            raise RuntimeError(f"the oracle ended with {status}")
        cost = sum(cost * solver.value(literal) for cost, literal in self.costs)
        return Solved(
            cost=cost + self.constant,
            bound=solver.best_objective_bound / SCALE + self.constant,
            optimal=status == "OPTIMAL",
            places=self._read(solver),
        )

    def _closures(self) -> None:
        for station in self.network.stations:
            edge = None
            for closed in sorted(station.closed, key=lambda item: item.start):
                # closed times may overlap one another
                start = closed.start if edge is None else max(edge, closed.start)
                if start < closed.end:
                    self.things.take(station.id, start, closed.end - start)
                    edge = closed.end

    def _breaks(self) -> None:
        for person in self.network.technicians:
            for shift in person.shifts:
                if shift.break_minutes and 0 <= shift.start < self.network.days * DAY:
                    low = max(shift.start, shift.break_start)
                    high = min(shift.end, shift.break_end) - shift.break_minutes
                    start = self.cp.new_int_var(low, high, "break")
                    self.things.take(person.id, start, shift.break_minutes)
                    self.rests.append((shift, start))

    def _opens(self, site: str, first: int, last: int) -> list[Window]:
        """Opening times on days ``first`` to ``last`` that lie in the horizon."""
        low, high = max(0, first), min(self.network.days - 1, last)
        return [window for window in self.sites[site].open if low <= window.start // DAY <= high]

    def _start_within(self, spans: list[Span], minutes: int) -> cp_model.Domain:
        starts = [[low, high - minutes] for low, high in spans if high - low >= minutes]
        return cp_model.Domain.from_intervals(starts)

    def _days_of(self, start: cp_model.IntVar, domain: cp_model.Domain) -> dict[int, Literal]:
        """One literal for each day on which ``start`` may lie."""
        days: dict[int, Literal] = {}
        for day in range(self.network.days):
            within = cp_model.Domain(day * DAY, day * DAY + DAY - 1)
            if not domain.intersection_with(within).is_empty():
                days[day] = self.cp.new_bool_var(f"day {day}")
                self.cp.add_linear_expression_in_domain(start, within).only_enforce_if(days[day])
        return days

    def _shifts_of(
        self, site: str, skills: set[str], start: cp_model.IntVar, minutes: int
    ) -> dict[tuple[str, int], Literal]:
        """One literal for each shift at the site of somebody able; takes the technician."""
        shifts: dict[tuple[str, int], Literal] = {}
        for person in self.network.technicians:
            for number, shift in enumerate(person.shifts):
                if shift.site == site and skills <= set(person.skills):
                    literal = self.cp.new_bool_var(f"by {person.id} {number}")
                    within = cp_model.Domain(shift.start, shift.end - minutes)
                    if within.is_empty():
                        continue
                    self.cp.add_linear_expression_in_domain(start, within).only_enforce_if(literal)
                    self.things.take(person.id, start, minutes, literal)
                    shifts[person.id, number] = literal
        return shifts

    def _care(self, care: Care) -> None:
        site = self.stations[care.station].site
        opens = self._opens(site, care.earliest, care.latest)
        domain = self._start_within([(w.start, w.end) for w in opens], care.minutes)
        if domain.is_empty():
            self.sound = False
            return
        start = self.cp.new_int_var_from_domain(domain, f"care {care.id}")
        self.things.take(care.station, start, care.minutes)
        days = self._days_of(start, domain)
        self.cp.add_exactly_one(days.values())
        self.care_days.append((care, days))
        if care.technician:
            self.cp.add_exactly_one(self._shifts_of(site, set(), start, care.minutes).values())

    def _stand(self, request: Request, item: Appointment) -> None:
        """A fixed appointment: it takes its station and technician, if rules 1 to 3 let it."""
        station, person = self.stations[item.station], self.people[item.technician]
        start, end = item.start, item.start + item.minutes
        choice = next((one for one in request.sites if one.site == station.site), None)
        if choice is None:
            self.sound = False
            return
        skills = set(request.skills) | self.skills[choice.profile or request.profile]
        opens = self._opens(station.site, request.release, self.network.days)
        self.sound &= any(w.start <= start and end <= w.end for w in opens)
        self.sound &= not request.available or any(
            w.start <= start and end <= w.end for w in request.available
        )
        self.sound &= set(request.features) <= set(station.features)
        self.sound &= skills <= set(person.skills)
        self.sound &= any(
            shift.site == station.site and shift.start <= start and end <= shift.end
            for shift in person.shifts
        )
        self.things.take(item.station, start, item.minutes)
        self.things.take(item.technician, start, item.minutes)
        self.constant += self._place_cost(request, choice, start // DAY)

    def _place_cost(self, request: Request, choice: SiteChoice, day: int) -> float:
        cost = self.network.policy.cost
        late = cost.late_day * max(0, day - request.due)
        waits = cost.wait_day * (day - request.release)
        return request.weight * (late + waits) + cost.travel_minute * choice.travel

    def _request(self, request: Request) -> None:
        cost = self.network.policy.cost
        places = self.places.setdefault(request.id, [])
        for choice in request.sites:
            place = self._place(request, choice)
            if place is not None:
                places.append(place)
                for day, literal in place.days.items():
                    self.costs.append((self._place_cost(request, choice, day), literal))
        out = self.cp.new_bool_var(f"out {request.id}")
        self.cp.add_exactly_one([out, *(day for place in places for day in place.days.values())])
        unbooked = cost.unbooked if request.unbooked is None else request.unbooked
        self.costs.append((request.weight * unbooked, out))
        if request.id in self.movable:
            moved = self.cp.new_bool_var(f"moved {request.id}")
            self.costs.append((cost.move, moved))
            self._may_stay(self.movable[request.id], places, moved)

    def _place(self, request: Request, choice: SiteChoice) -> _Place | None:
        profile = choice.profile or request.profile
        minutes = self.lengths[profile]
        opens = self._opens(choice.site, request.release, self.network.days)
        domain = self._start_within([(w.start, w.end) for w in opens], minutes)
        if request.available:
            free = self._start_within([(w.start, w.end) for w in request.available], minutes)
            domain = domain.intersection_with(free)
        if domain.is_empty():
            return None
        start = self.cp.new_int_var_from_domain(domain, f"start {request.id} {choice.site}")
        days = self._days_of(start, domain)
        stations: dict[str, Literal] = {}
        for station in self.network.stations:
            if station.site == choice.site and set(request.features) <= set(station.features):
                stations[station.id] = self.cp.new_bool_var(f"at {station.id}")
                self.things.take(station.id, start, minutes, stations[station.id])
        skills = set(request.skills) | self.skills[profile]
        shifts = self._shifts_of(choice.site, skills, start, minutes)
        booked = sum(days.values())
        self.cp.add(sum(stations.values()) == booked)
        self.cp.add(sum(shifts.values()) == booked)
        return _Place(choice, minutes, start, days, stations, shifts)

    def _may_stay(self, item: Appointment, places: list[_Place], moved: Literal) -> None:
        """Not ``moved`` means: same station, same technician, same told time."""
        stays = moved.negated()
        first = told(item.start, self.network.grain)
        last = min(first + self.network.grain, (first // DAY + 1) * DAY) - 1
        for place in places:
            if item.station in place.stations:
                mine = [on for (who, _), on in place.shifts.items() if who == item.technician]
                self.cp.add(place.stations[item.station] == 1).only_enforce_if(stays)
                self.cp.add(sum(mine) == 1).only_enforce_if(stays)
                same = cp_model.Domain(first, last)
                self.cp.add_linear_expression_in_domain(place.start, same).only_enforce_if(stays)
                return
        self.cp.add(moved == 1)

    def _day_capacity(self) -> None:
        """Implied, to help the proof: what a site's stations, and its technicians, have a day."""
        for site in self.network.sites:
            stations = sum(station.site == site.id for station in self.network.stations)
            for day in range(self.network.days):
                opens = self._opens(site.id, day, day)
                there = sum(self._on_shift(site.id, window) for window in opens)
                room = min(stations * sum(w.end - w.start for w in opens), there)
                self.cp.add(sum(self._minutes_on(site.id, day)) <= room)

    def _on_shift(self, site: str, window: Window) -> int:
        return sum(
            max(0, min(shift.end, window.end) - max(shift.start, window.start))
            for person in self.network.technicians
            for shift in person.shifts
            if shift.site == site
        )

    def _minutes_on(
        self, site: str, day: int, *, rework: bool = True
    ) -> list[cp_model.LinearExprT]:
        """Minutes of the bookings of a site and day, fixed ones apart."""
        return [
            place.minutes * place.days[day]
            for request in self.network.requests
            if rework or not request.rework
            for place in self.places.get(request.id, [])
            if place.choice.site == site and day in place.days
        ]

    def _reserves(self) -> None:
        """Rule 8; a day that fixed appointments alone overfill is nobody's fault."""
        requests = {request.id: request for request in self.network.requests}
        for reserve in self.network.reserve:
            site, day = reserve.site, reserve.day
            wanted = self._minutes_on(site, day, rework=False)
            if not wanted:
                continue
            used = sum(
                item.minutes
                for item in self.fixed.values()
                if self.stations[item.station].site == site
                and item.start // DAY == day
                and not requests[item.request].rework
            )
            some = self.cp.new_bool_var("some")
            self.cp.add(sum(wanted) == 0).only_enforce_if(some.negated())
            for room, taken in self._rooms(site, day):
                left = room - reserve.minutes - used
                self.cp.add(sum(wanted + taken) <= left).only_enforce_if(some)

    def _rooms(self, site: str, day: int) -> list[tuple[int, list[cp_model.LinearExprT]]]:
        """The stations' and the technicians' minutes of a site and day, and what lessens them."""
        opens = [(w.start, w.end) for w in self._opens(site, day, day)]
        stations = sum(
            not any(closed.start <= minute < closed.end for closed in station.closed)
            for station in self.network.stations
            if station.site == site
            for span in opens
            for minute in range(*span)
        )
        people = sum(self._on_shift(site, Window(*span)) for span in opens)
        care = [
            (item, item.minutes * days[day])
            for item, days in self.care_days
            if self.stations[item.station].site == site and day in days
        ]
        staffed = [taken for item, taken in care if item.technician]
        rests = [
            self._overlap(shift, start, opens) for shift, start in self.rests if shift.site == site
        ]
        return [(stations, [taken for _, taken in care]), (people, [*staffed, *rests])]

    def _overlap(self, shift: Shift, start: cp_model.IntVar, opens: list[Span]) -> cp_model.IntVar:
        """Minutes that a break shares with opening times."""
        low = max(shift.start, shift.break_start)
        high = min(shift.end, shift.break_end) - shift.break_minutes
        table = [
            sum(max(0, min(b, at + shift.break_minutes) - max(a, at)) for a, b in opens)
            for at in range(low, high + 1)
        ]
        shared = self.cp.new_int_var(0, shift.break_minutes, "shared")
        self.cp.add_element(start - low, table, shared)
        return shared

    def _read(self, solver: cp_model.CpSolver) -> dict[str, tuple[str, str, str, int]]:
        found = {}
        for name, places in self.places.items():
            for place in places:
                if any(solver.value(day) for day in place.days.values()):
                    station = next(k for k, on in place.stations.items() if solver.value(on))
                    person = next(k for (k, _), on in place.shifts.items() if solver.value(on))
                    start = solver.value(place.start)
                    found[name] = (place.choice.site, station, person, start)
        return found


def solve_monolith(network: Network, lengths: dict[str, int], effort: float) -> Solved | None:
    """Solve a whole network in one model; None where it is proved impossible (rules 1 to 7)."""
    return Monolith(network, lengths).solve(effort)
