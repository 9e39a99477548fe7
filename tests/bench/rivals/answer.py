"""A rival's answer as a plan: seats, care and breaks, costed by the judge's own sums."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from planner.engine.network import Network
from planner.engine.plan import Booking, Break, CarePlaced, Plan, Reason, Unbooked
from planner.engine.units import DAY, told
from planner.engine.verify.cost import charges, moved_or_dropped
from planner.engine.verify.facts import gather
from tests.bench.rivals.ground import Ground

NOT_PLACED = Reason("not-placed", "this planner gave it no place", "ask a planner that says why")


class NoPlan(Exception):
    """A rival ended without a plan; the text says why."""


@dataclass(frozen=True, slots=True)
class Seat:
    """A booking: places of station and worker in the site-day, minutes past midnight."""

    request: int
    siteday: int
    station: int
    worker: int
    start: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Ask:
    """What a contestant is given: the network, planned lengths, wall-clock seconds, processes."""

    network: Network
    lengths: Mapping[str, int]
    seconds: float
    effort: int | None = None
    seed: int = 1
    workers: int = 1


@dataclass(frozen=True, slots=True)
class Answer:
    """A plan; the bound that its maker proved, None where it proves none; a word on how it ended.

    The plan's ``p_wait`` are not estimated yet.
    """

    plan: Plan
    bound: float | None = None
    word: str = ""


@dataclass(slots=True)
class Seated:
    """A plan in the making.

    ``care`` maps care to (site-day, start, worker), worker -1 where none is needed; ``rests`` maps
    (site-day, worker) to a break's start. Starts are minutes past the day's midnight.
    """

    seats: list[Seat] = field(default_factory=list)
    care: dict[int, tuple[int, int, int]] = field(default_factory=dict)
    rests: dict[tuple[int, int], int] = field(default_factory=dict)

    def plan(self, ground: Ground, bound: float | None = None) -> Plan:
        """The plan for the file's network, fixed appointments included."""
        network = ground.network
        bookings = tuple(
            sorted(_bookings(ground, self.seats), key=lambda item: (item.start, item.station))
        )
        booked = {item.request for item in bookings}
        plan = Plan(
            bookings=bookings,
            care=_care(ground, self.care),
            care_unplaced=(),
            breaks=_breaks(ground, self.rests),
            unbooked=tuple(
                Unbooked(item.id, (NOT_PLACED,))
                for item in network.requests
                if item.id not in booked
            ),
            moved=(),
            lengths=dict(ground.lengths),
            objective=0.0,
            bound=0.0,
            gap=None,
        )
        facts = gather(network, plan)
        cost = charges(facts).total
        floor = min(max(0.0, bound or 0.0), cost)
        gone = moved_or_dropped(facts)
        moved = tuple(item.id for item in network.appointments if item.id in gone)
        gap = (cost - floor) / floor if floor > 0 else None
        return replace(plan, moved=moved, objective=cost, bound=floor, gap=gap)


def _bookings(ground: Ground, seats: Sequence[Seat]) -> list[Booking]:
    network, problem = ground.network, ground.problem
    found = []
    fixed = [
        Seat(block.request, g, block.station, block.worker, block.start, block.minutes)
        for g, siteday in enumerate(problem.sitedays)
        for block in siteday.fixed
        if block.request >= 0
    ]
    for seat in (*seats, *fixed):
        siteday = problem.sitedays[seat.siteday]
        start = siteday.day * DAY + seat.start
        found.append(
            Booking(
                request=network.requests[seat.request].id,
                site=network.sites[siteday.site].id,
                station=network.stations[siteday.stations[seat.station]].id,
                technician=network.technicians[siteday.workers[seat.worker].technician].id,
                start=start,
                told=told(start, network.grain),
                minutes=seat.minutes,
                p_wait=0.0,
            )
        )
    return found


def _care(ground: Ground, care: Mapping[int, tuple[int, int, int]]) -> tuple[CarePlaced, ...]:
    network, problem = ground.network, ground.problem
    found = []
    for c, (g, start, worker) in sorted(care.items()):
        siteday = problem.sitedays[g]
        person = None
        if worker >= 0:
            person = network.technicians[siteday.workers[worker].technician].id
        found.append(CarePlaced(network.care[c].id, siteday.day * DAY + start, person))
    return tuple(found)


def _breaks(ground: Ground, rests: Mapping[tuple[int, int], int]) -> tuple[Break, ...]:
    people, problem = ground.network.technicians, ground.problem
    found = [
        Break(people[person].id, start, people[person].shifts[number].break_minutes)
        for (person, number), start in problem.early_breaks.items()
    ]
    for (g, place), start in rests.items():
        siteday = problem.sitedays[g]
        worker = siteday.workers[place]
        name = people[worker.technician].id
        found.append(Break(name, siteday.day * DAY + start, worker.break_minutes))
    return tuple(sorted(found, key=lambda item: (item.technician, item.start)))
