"""What every rival stands on: the free minutes of each site-day as bits, and where one may go.

Bit t of a mask is minute t past the day's midnight. The tables of site-days are the planner's own
reading of the file; what a rival makes of them is judged by `verify`, which shares nothing with it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.problem import Problem, build_problem, profile_at
from planner.engine.booking.siteday import SiteDay
from planner.engine.network import Network, Request
from planner.engine.units import DAY

ANY = 1 << 30
"""Minutes that no day holds: where nothing is reserved."""


@dataclass(frozen=True, slots=True)
class Choice:
    """A site-day on which a request may be served, the planned minutes there and what it costs."""

    siteday: int
    minutes: int
    cost: float


class Ground:
    """A network with planned lengths, as site-days of bits."""

    def __init__(self, network: Network, lengths: dict[str, int]) -> None:
        self.network = network
        self.lengths = lengths
        self.problem: Problem = build_problem(with_breaks_in_shifts(network), lengths)
        self.days = [DayBits(siteday) for siteday in self.problem.sitedays]

    def choices(self, r: int) -> Iterator[Choice]:
        """Where a request may go, by day, then by travel; nothing that costs what leaving out does.

        The time of day, and who is free, is left to `starts`.
        """
        network, problem = self.network, self.problem
        request = network.requests[r]
        near = sorted(request.sites, key=lambda choice: choice.travel)
        places = [
            (problem.index.site[item.site], item.travel, self.minutes(r, item.site))
            for item in near
        ]
        for day in range(max(0, request.release), network.days):
            for site, travel, minutes in places:
                g = problem.at.get((site, day))
                if g is not None:
                    cost = place_cost(network, request, day, travel)
                    if cost < self.left_out(r):
                        yield Choice(g, minutes, cost)

    def minutes(self, r: int, site: str) -> int:
        """Planned minutes of a request at one of its sites."""
        profile = profile_at(self.problem, r, self.problem.index.site[site])
        return int(self.problem.lengths[profile])

    def left_out(self, r: int) -> float:
        """What leaving a request out costs."""
        request = self.network.requests[r]
        usual = self.network.policy.cost.unbooked
        return request.weight * (usual if request.unbooked is None else request.unbooked)

    def open_to(self, r: int, g: int, minutes: int) -> int:
        """The starts at which the subject can come for so many minutes."""
        available = self.network.requests[r].available
        if not available:
            return span(0, DAY - minutes + 1)
        base, found = self.problem.sitedays[g].day * DAY, 0
        for window in available:
            start, end = max(0, window.start - base), min(DAY, window.end - base)
            found |= span(start, end - minutes + 1)
        return found

    def able(self, r: int, g: int) -> tuple[list[int], list[int]]:
        """The stations and the workers of a site-day that have what a request asks for."""
        needs, siteday = self.problem.needs, self.problem.sitedays[g]
        feature = needs.feature_of[r]
        skill = needs.skill_of[r, profile_at(self.problem, r, siteday.site)]
        return (
            [k for k, s in enumerate(siteday.stations) if needs.station_ok[feature, s]],
            [k for k, w in enumerate(siteday.workers) if needs.technician_ok[skill, w.technician]],
        )

    def starts(self, r: int, choice: Choice) -> int:
        """The starts that rules 1 to 3 leave a request on a site-day, as things stand there."""
        day = self.days[choice.siteday]
        stations, workers = self.able(r, choice.siteday)
        at = by = 0
        for k in stations:
            at |= day.station_starts(k, choice.minutes)
        for k in workers:
            by |= day.worker_starts(k, choice.minutes)
        return at & by & self.open_to(r, choice.siteday, choice.minutes)

    def is_rework(self, r: int) -> bool:
        """Whether a request may use the reserve."""
        return self.network.requests[r].rework

    def stations_room(self, g: int) -> int:
        """Open station minutes of a site-day, less closed times (rule 8), before any care."""
        siteday, total = self.problem.sitedays[g], 0
        for place in range(len(siteday.stations)):
            free = self.days[g].is_open
            for block in siteday.closed:
                if block.station == place:
                    free &= ~span(block.start, block.start + block.minutes)
            total += free.bit_count()
        return total

    def workers_room(self, g: int) -> int:
        """Shift minutes inside opening hours, less breaks that already have their time."""
        day = self.days[g]
        total = 0
        for worker in self.problem.sitedays[g].workers:
            total += (day.is_open & span(worker.start, worker.end)).bit_count()
        for block in self.problem.sitedays[g].fixed:
            if block.request < 0:
                total -= (day.is_open & span(block.start, block.start + block.minutes)).bit_count()
        return total

    def fixed_plain(self, g: int) -> int:
        """Minutes of fixed appointments of a site-day that are not rework."""
        return sum(
            block.minutes
            for block in self.problem.sitedays[g].fixed
            if block.request >= 0 and not self.is_rework(block.request)
        )


class DayBits:
    """Free minutes of a site-day's stations and workers.

    A worker's break that has no time yet keeps what it needs: no start is given that would leave
    it no place in its window.
    """

    def __init__(self, siteday: SiteDay) -> None:
        self.opens = [span(start, end) for start, end in siteday.opens]
        self.is_open = 0
        for bits in self.opens:
            self.is_open |= bits
        self.station = [self.is_open for _ in siteday.stations]
        self.worker = [span(worker.start, worker.end) for worker in siteday.workers]
        self.rest = [
            (worker.break_minutes, span(worker.break_start, worker.break_end))
            for worker in siteday.workers
        ]
        for block in (*siteday.closed, *siteday.fixed):
            self.take(block.station, block.worker, block.start, block.minutes)

    def take(self, station: int, worker: int, start: int, minutes: int) -> None:
        """Use up minutes of a station and a worker; -1 where none takes part."""
        bits = ~span(start, start + minutes)
        if station >= 0:
            self.station[station] &= bits
        if worker >= 0:
            self.worker[worker] &= bits

    def station_starts(self, station: int, minutes: int) -> int:
        """Starts at which a station is free for so long, within one opening time."""
        found = 0
        for bits in self.opens:
            found |= run_starts(self.station[station] & bits, minutes)
        return found

    def worker_starts(self, worker: int, minutes: int) -> int:
        """Starts at which a worker is free for so long and still has room for the break."""
        found = run_starts(self.worker[worker], minutes)
        rest, _ = self.rest[worker]
        if rest and found:
            breaks = self.break_starts(worker)
            if not breaks:
                return 0
            first, last = lowest(breaks), breaks.bit_length() - 1
            found &= ~span(last - minutes + 1, first + rest)
        return found

    def break_starts(self, worker: int) -> int:
        """Where the worker's break may start."""
        rest, window = self.rest[worker]
        return run_starts(self.worker[worker] & window, rest)

    def settle_break(self, worker: int) -> int:
        """Give a break its earliest time; -1 where there is none to give."""
        rest, window = self.rest[worker]
        if not rest:
            return -1
        start = lowest(self.break_starts(worker))
        self.take(-1, worker, start, rest)
        self.rest[worker] = (0, window)
        return start


def place_cost(network: Network, request: Request, day: int, travel: int) -> float:
    """What the objective charges for a request on a day at a place so far away."""
    cost = network.policy.cost
    late = cost.late_day * max(0, day - request.due)
    return request.weight * (late + cost.wait_day * (day - request.release)) + (
        cost.travel_minute * travel
    )


def span(start: int, end: int) -> int:
    """The bits ``[start, end)``, cut at 0; none where the end is not after the start."""
    start = max(0, start)
    return ((1 << (end - start)) - 1) << start if end > start else 0


def run_starts(free: int, minutes: int) -> int:
    """Bits t for which t to t + minutes - 1 are all set."""
    done = 1
    while done < minutes and free:
        step = min(done, minutes - done)
        free &= free >> step
        done += step
    return free


def lowest(bits: int) -> int:
    """The place of the lowest set bit; -1 where none is set."""
    return (bits & -bits).bit_length() - 1


def intervals(bits: int) -> list[list[int]]:
    """Runs of set bits as ``[first, last]``, both ends included."""
    found = []
    at = 0
    while bits:
        low = lowest(bits)
        bits >>= low
        length = lowest(~bits)
        found.append([at + low, at + low + length - 1])
        bits >>= length
        at += low + length
    return found
