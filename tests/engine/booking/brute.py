"""Every plan of a tiny network, one by one: the true optimum where nothing is random.

Times are whole ticks of ten minutes. That loses nothing where all data are multiples of ten: any
plan can be shifted to the left, thing by thing in order of start, until each begins where
something ends or a window opens, and these are multiples of ten (derived).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf

from planner.engine.network import Network, Request, Shift, SiteChoice
from planner.engine.units import DAY

TICK = 10

Place = tuple[float, str, str, int, int]
"""Cost, station, technician, first tick, ticks."""


@dataclass(slots=True)
class Search:
    """Depth first over breaks, care and requests; ``busy`` has a bit for each tick of a thing."""

    network: Network
    lengths: dict[str, int]
    busy: dict[str, int] = field(default_factory=dict)
    used: dict[tuple[str, int], int] = field(default_factory=dict)
    best: float = inf

    def optimum(self) -> float:
        """The least cost of any plan that keeps rules 1 to 8; inf where there is none."""
        for station in self.network.stations:
            for closed in station.closed:
                self.busy[station.id] = self.busy.get(station.id, 0) | bits(
                    closed.start, closed.end - closed.start
                )
        self._rest(0)
        return self.best

    def _rest(self, number: int) -> None:
        rests = [
            (person.id, shift)
            for person in self.network.technicians
            for shift in person.shifts
            if shift.break_minutes
        ]
        if number == len(rests):
            self._care(0)
            return
        person, shift = rests[number]
        for start in range(shift.break_start, shift.break_end - shift.break_minutes + 1, TICK):
            with_it = bits(start, shift.break_minutes)
            held = self._hold([person], with_it)
            if held:
                self._lessen(shift, with_it, 1)
                self._rest(number + 1)
                self._lessen(shift, with_it, -1)
                self._free([person], with_it)

    def _lessen(self, shift: Shift, taken: int, sign: int) -> None:
        """Count break minutes inside opening hours against the technicians' room."""
        for window in self._opens(shift.site):
            shared = (taken & bits(window[0], window[1] - window[0])).bit_count() * TICK
            key = (f"people {shift.site}", window[0] // DAY)
            self.used[key] = self.used.get(key, 0) + sign * shared

    def _opens(self, site: str) -> list[tuple[int, int]]:
        found = next(item for item in self.network.sites if item.id == site)
        horizon = self.network.days * DAY
        return [(w.start, w.end) for w in found.open if 0 <= w.start < horizon]

    def _care(self, number: int) -> None:
        if number == len(self.network.care):
            self._book(0, 0.0)
            return
        care = self.network.care[number]
        site = next(s.site for s in self.network.stations if s.id == care.station)
        people: list[list[str]] = [[]]
        if care.technician:
            people = [[person.id] for person in self.network.technicians]
        for low, high in self._opens(site):
            if care.earliest <= low // DAY <= care.latest:
                for start in range(low, high - care.minutes + 1, TICK):
                    for helper in people:
                        if helper and not self._on_shift(helper[0], site, start, care.minutes):
                            continue
                        taken = bits(start, care.minutes)
                        if self._hold([care.station, *helper], taken):
                            keys = [(f"stations {site}", low // DAY)]
                            keys += [(f"people {site}", low // DAY)] * len(helper)
                            for key in keys:
                                self.used[key] = self.used.get(key, 0) + care.minutes
                            self._care(number + 1)
                            for key in keys:
                                self.used[key] -= care.minutes
                            self._free([care.station, *helper], taken)

    def _on_shift(self, person: str, site: str, start: int, minutes: int) -> bool:
        found = next(item for item in self.network.technicians if item.id == person)
        return any(
            shift.site == site and shift.start <= start and start + minutes <= shift.end
            for shift in found.shifts
        )

    def _hold(self, things: list[str], taken: int) -> bool:
        if any(self.busy.get(thing, 0) & taken for thing in things):
            return False
        for thing in things:
            self.busy[thing] = self.busy.get(thing, 0) | taken
        return True

    def _free(self, things: list[str], taken: int) -> None:
        for thing in things:
            self.busy[thing] &= ~taken

    def _book(self, number: int, cost: float) -> None:
        requests = self.network.requests
        if cost + sum(self._least(item) for item in requests[number:]) >= self.best - 1e-9:
            return
        if number == len(requests):
            if self._reserves_kept():
                self.best = cost
            return
        request = requests[number]
        for price, station, person, start, minutes in self._places(request):
            taken = bits(start, minutes)
            if self._hold([station, person], taken):
                site = next(s.site for s in self.network.stations if s.id == station)
                key = (f"plain {site}", start // DAY)
                self.used[key] = self.used.get(key, 0) + minutes * (not request.rework)
                self._book(number + 1, cost + price)
                self.used[key] -= minutes * (not request.rework)
                self._free([station, person], taken)
        self._book(number + 1, cost + self._out(request))

    def _out(self, request: Request) -> float:
        usual = self.network.policy.cost.unbooked
        return request.weight * (usual if request.unbooked is None else request.unbooked)

    def _least(self, request: Request) -> float:
        return min([self._out(request), *(place[0] for place in self._places(request)[:1])])

    def _places(self, request: Request) -> list[Place]:
        """Every place of a request that rules 1 to 3 allow, cheapest first."""
        skills = {item.id: set(item.skills) for item in self.network.profiles}
        found: list[Place] = []
        for choice in request.sites:
            profile = choice.profile or request.profile
            minutes = self.lengths[profile]
            asked = set(request.skills) | skills[profile]
            for station in self.network.stations:
                if station.site != choice.site or not set(request.features) <= set(
                    station.features
                ):
                    continue
                for person in self.network.technicians:
                    if asked <= set(person.skills):
                        found += [
                            (
                                self._cost(request, choice, start),
                                station.id,
                                person.id,
                                start,
                                minutes,
                            )
                            for start in self._starts(request, choice.site, minutes)
                            if self._on_shift(person.id, choice.site, start, minutes)
                        ]
        return sorted(found)

    def _starts(self, request: Request, site: str, minutes: int) -> list[int]:
        return [
            start
            for low, high in self._opens(site)
            if low // DAY >= request.release
            for start in range(low, high - minutes + 1, TICK)
            if not request.available
            or any(w.start <= start and start + minutes <= w.end for w in request.available)
        ]

    def _cost(self, request: Request, choice: SiteChoice, start: int) -> float:
        cost, day = self.network.policy.cost, start // DAY
        late = cost.late_day * max(0, day - request.due)
        waits = cost.wait_day * (day - request.release)
        return request.weight * (late + waits) + cost.travel_minute * choice.travel

    def _reserves_kept(self) -> bool:
        for reserve in self.network.reserve:
            place = (reserve.site, reserve.day)
            plain = self.used.get((f"plain {place[0]}", place[1]), 0)
            if plain and plain > self._room(*place) - reserve.minutes:
                return False
        return True

    def _room(self, site: str, day: int) -> int:
        opens = [span for span in self._opens(site) if span[0] // DAY == day]
        ticks = sum(bits(low, high - low) for low, high in opens)
        stations = 0
        for station in self.network.stations:
            if station.site == site:
                shut = 0
                for closed in station.closed:
                    shut |= bits(closed.start, closed.end - closed.start)
                stations += (ticks & ~shut).bit_count() * TICK
        people = sum(
            (ticks & bits(shift.start, shift.end - shift.start)).bit_count() * TICK
            for person in self.network.technicians
            for shift in person.shifts
            if shift.site == site
        )
        used = self.used
        return min(
            stations - used.get((f"stations {site}", day), 0),
            people - used.get((f"people {site}", day), 0),
        )


def bits(start: int, minutes: int) -> int:
    """One bit for each tick of an interval of minutes."""
    return ((1 << (minutes // TICK)) - 1) << (start // TICK)
