"""First come, first served: everybody gets the first free time there is, in order of release.

As an appointment book is kept by hand: what is fixed stands, scanner care goes to the first time of
its window, who is booked keeps the place where it is still possible, and everybody else takes the
earliest day with room at any of their sites (the nearest first), at its earliest minute. Kinder
than by hand in three things: starts lie on any minute, breaks move wherever room is left for
them, and a place that costs more than leaving out is not taken.
"""

from __future__ import annotations

import math

from planner.engine.booking.draft import pin_of
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.problem import profile_at
from planner.engine.network import Network
from planner.engine.sessions.length import session_length
from planner.engine.sessions.planned import planned_minutes
from planner.engine.units import DAY
from tests.bench.rivals.answer import Answer, Ask, NoPlan, Seat, Seated
from tests.bench.rivals.ground import ANY, Choice, Ground, lowest

SLOT = 0.95
"""A slot holds this share of the sessions that take place."""


def slot_lengths(network: Network) -> dict[str, int]:
    """Whole minutes by profile in which a session ends with a chance of 95 %."""
    return {
        item.id: max(1, math.ceil(session_length(item).quantile(SLOT) - 1e-9))
        for item in network.profiles
    }


def planned_lengths(network: Network) -> dict[str, int]:
    """The shortest minutes by profile that keep the promises in a row of sessions."""
    policy, grain = network.policy, network.grain
    return {item.id: planned_minutes(item, policy, grain) for item in network.profiles}


def serve(ask: Ask) -> Answer:
    """Book everybody in order. Raises NoPlan where care finds no time."""
    ground = Ground(ask.network, dict(ask.lengths))
    return Answer(keep_book(ground).plan(ground))


def keep_book(ground: Ground) -> Seated:
    """Who has which seat when everybody was served; uses the ground's free minutes up."""
    check_fixed(ground.network)
    book = Book(ground)
    book.place_care()
    book.keep_movable()
    requests = ground.network.requests
    for r in sorted(range(len(requests)), key=lambda r: requests[r].release):
        if r not in book.problem.fixed_of and r not in book.kept:
            book.serve(r)
    return book.finish()


class Book:
    """The appointment book: free minutes, and who has which."""

    def __init__(self, ground: Ground) -> None:
        self.ground, self.problem = ground, ground.problem
        self.seated = Seated()
        self.kept: set[int] = set()
        self.plain = [ANY] * len(self.problem.sitedays)
        self._care_minutes = [(0, 0)] * len(self.problem.sitedays)
        self._starts: list[dict[tuple[int, int, int], int]] = [{} for _ in self.problem.sitedays]

    def place_care(self) -> None:
        """Care at the first possible time, the narrowest windows first; then what is reserved."""
        network = self.ground.network
        order = sorted(
            range(len(network.care)),
            key=lambda c: network.care[c].latest - network.care[c].earliest,
        )
        for c in order:
            if not self._care(c):
                raise NoPlan(f"care {network.care[c].id} found no time")
        for g, siteday in enumerate(self.problem.sitedays):
            if siteday.reserve:
                stations, workers = self._care_minutes[g]
                breaks = sum(worker.break_minutes for worker in siteday.workers)
                room = min(
                    self.ground.stations_room(g) - stations,
                    self.ground.workers_room(g) - breaks - workers,
                )
                self.plain[g] = room - siteday.reserve - self.ground.fixed_plain(g)

    def _care(self, c: int) -> bool:
        problem, care = self.problem, self.ground.network.care[c]
        station = problem.index.station[care.station]
        site = problem.index.site[self.ground.network.stations[station].site]
        for day in range(max(0, care.earliest), min(care.latest, self.ground.network.days - 1) + 1):
            g = problem.at.get((site, day))
            if g is None:
                continue
            bits = self.ground.days[g]
            place = problem.sitedays[g].stations.index(station)
            free = bits.station_starts(place, care.minutes)
            helpers = {-1: free}
            if care.technician:
                helpers = {
                    w: free & bits.worker_starts(w, care.minutes) for w in range(len(bits.worker))
                }
            found = [(lowest(starts), w) for w, starts in helpers.items() if starts]
            if found:
                start, worker = min(found)
                bits.take(place, worker, start, care.minutes)
                self.seated.care[c] = (g, start, worker)
                stations, workers = self._care_minutes[g]
                self._care_minutes[g] = (
                    stations + care.minutes, workers + care.minutes * care.technician
                )  # fmt: skip
                return True
        return False

    def keep_movable(self) -> None:
        """Who is booked already keeps station, technician and told time where that is possible."""
        problem, network = self.problem, self.ground.network
        for r, item in problem.movable_of.items():
            station = problem.index.station[item.station]
            site = network.stations[station].site
            g = problem.at.get((problem.index.site[site], item.start // DAY))
            if g is None or item.start // DAY < network.requests[r].release:
                continue
            if all(choice.site != site for choice in network.requests[r].sites):
                continue
            profile = profile_at(problem, r, problem.index.site[site])
            minutes = self.ground.minutes(r, site)
            block = pin_of(problem, g, r, minutes, profile)
            if block is None or not self._may(r, g, minutes):
                continue
            bits, here = self.ground.days[g], 1 << block.start
            free = bits.station_starts(block.station, minutes)
            if here & free & bits.worker_starts(block.worker, minutes):
                self._seat(Seat(r, g, block.station, block.worker, block.start, minutes))
                self.kept.add(r)

    def serve(self, r: int) -> None:
        """The first free time of the first day with room, if there is one."""
        for choice in self.ground.choices(r):
            g, minutes = choice.siteday, choice.minutes
            if not self._may(r, g, minutes):
                continue
            starts = self._possible(r, choice) & self.ground.open_to(r, g, minutes)
            if starts:
                start = lowest(starts)
                self._seat(Seat(r, g, *self._who(r, choice, start), start, minutes))
                return

    def _may(self, r: int, g: int, minutes: int) -> bool:
        return minutes <= self.plain[g] or self.ground.is_rework(r)

    def _possible(self, r: int, choice: Choice) -> int:
        """Starts at which some able station and some able worker are free; kept until a change."""
        problem, g = self.problem, choice.siteday
        siteday = problem.sitedays[g]
        profile = profile_at(problem, r, siteday.site)
        needs = problem.needs
        key = (int(needs.feature_of[r]), needs.skill_of[r, profile], choice.minutes)
        found = self._starts[g].get(key)
        if found is None:
            bits, at, by = self.ground.days[g], 0, 0
            stations, workers = self.ground.able(r, g)
            for k in stations:
                at |= bits.station_starts(k, choice.minutes)
            for k in workers if at else ():
                by |= bits.worker_starts(k, choice.minutes)
            found = self._starts[g][key] = at & by
        return found

    def _who(self, r: int, choice: Choice, start: int) -> tuple[int, int]:
        """The station and the worker who are free then; of several those who can do least else."""
        network, g = self.ground.network, choice.siteday
        bits, siteday, here = self.ground.days[g], self.problem.sitedays[g], 1 << start
        stations, workers = self.ground.able(r, g)
        return (
            min(
                (k for k in stations if bits.station_starts(k, choice.minutes) & here),
                key=lambda k: len(network.stations[siteday.stations[k]].features),
            ),
            min(
                (k for k in workers if bits.worker_starts(k, choice.minutes) & here),
                key=lambda k: len(network.technicians[siteday.workers[k].technician].skills),
            ),
        )

    def _seat(self, seat: Seat) -> None:
        self.ground.days[seat.siteday].take(seat.station, seat.worker, seat.start, seat.minutes)
        self._starts[seat.siteday].clear()
        self.seated.seats.append(seat)
        if not self.ground.is_rework(seat.request):
            self.plain[seat.siteday] -= seat.minutes

    def finish(self) -> Seated:
        """Give every break its time."""
        for g, bits in enumerate(self.ground.days):
            for worker in range(len(bits.worker)):
                start = bits.settle_break(worker)
                if start >= 0:
                    self.seated.rests[g, worker] = start
        return self.seated
