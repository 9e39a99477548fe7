"""What of a plan still stands after the events, and what lost its place, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from planner.engine.booking.problem import Problem, profile_at
from planner.engine.booking.replan.board import Board, Costs, Spot
from planner.engine.booking.replan.events import Events, Outage
from planner.engine.booking.replan.rests import Busy, Rests, freeze, place_rest, split_rests
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY

CARE_WEIGHT = 1e6
"""What care weighs against bookings where a break must find a place: it gives way last."""


@dataclass(slots=True)
class Standing:
    """The board of what stands, and who and what is without a place.

    ``origin`` has the old places that are still open, ``hit`` the requests without a place and
    why, ``care`` the care without one with its old start (network minutes) and why. ``touched``
    are the site-days on which something changed.
    """

    board: Board
    origin: dict[int, Spot]
    hit: dict[int, str] = field(default_factory=dict)
    care: dict[int, tuple[int, str]] = field(default_factory=dict)
    touched: set[int] = field(default_factory=set)


def stand(problem: Problem, plan: Plan, events: Events) -> Standing:
    """Put everything that still can be where ``plan`` has it on a board."""
    network, index = problem.network, problem.index
    spots: dict[int, Spot] = {}
    hit: dict[int, str] = {}
    freed: set[int] = set()
    for booking in plan.bookings:
        r = index.request.get(booking.request)
        thing = (booking.station, booking.technician, booking.start, booking.minutes)
        found = locate(problem, *thing)
        if r is None or r not in problem.movable_of:
            if r is None and isinstance(found, Spot):
                freed.add(found.g)
            continue
        if isinstance(found, str):
            hit[r] = found
            continue
        profile = profile_at(problem, r, problem.sitedays[found.g].site)
        block = found.block
        spots[r] = Spot(
            found.g, Block(block.start, block.minutes, block.station, block.worker, profile, r)
        )
    cares: dict[int, Spot] = {}
    lost_care: dict[int, tuple[int, str]] = {}
    care_index = {item.id: k for k, item in enumerate(network.care)}
    for placed in plan.care:
        c = care_index[placed.care]
        item = network.care[c]
        found = locate(problem, item.station, placed.technician, placed.start, item.minutes)
        if isinstance(found, str):
            lost_care[c] = (placed.start, found)
        else:
            cares[c] = found
    for left in plan.care_unplaced:
        c = care_index[left.care]
        lost_care[c] = (network.care[c].earliest * DAY, "it had no place before")
    touched = freed | {g for outage in _outages(network, events) for g in _reach(problem, *outage)}
    rests = _rests(problem, plan, spots, cares, hit, lost_care, touched)
    board = Board(freeze(problem, rests))
    for r, spot in spots.items():
        board.put(r, spot)
    for c, spot in cares.items():
        board.put_care(c, spot)
    return Standing(board, dict(spots), hit, lost_care, touched)


def locate(
    problem: Problem, station: str, technician: str | None, start: int, minutes: int
) -> Spot | str:
    """The place of something at a time, or why it cannot be there any more."""
    network, index = problem.network, problem.index
    at = index.station[station]
    site = network.stations[at].site
    day, minute = divmod(start, DAY)
    g = problem.at.get((index.site[site], day))
    if g is None or not _is_open(problem.sitedays[g], minute, minutes):
        return f"site {site} is closed"
    siteday = problem.sitedays[g]
    place = siteday.stations.index(at)
    if siteday.station_run[place, minute] < minutes:
        return f"station {station} is down"
    if technician is None:
        return Spot(g, Block(minute, minutes, place, -1))
    person = index.technician[technician]
    for w, worker in enumerate(siteday.workers):
        if worker.technician == person and siteday.worker_run[w, minute] >= minutes:
            return Spot(g, Block(minute, minutes, place, w))
    return f"technician {technician} is absent"


def _is_open(siteday: SiteDay, minute: int, minutes: int) -> bool:
    return any(start <= minute and minute + minutes <= end for start, end in siteday.opens)


def _outages(network: Network, events: Events) -> list[tuple[set[str], Outage]]:
    """Each outage with the sites that it reaches."""
    site_of = {item.id: item.site for item in network.stations}
    works = {item.id: {shift.site for shift in item.shifts} for item in network.technicians}
    found = [({site_of[item.thing]}, item) for item in events.down]
    found += [(works[item.thing], item) for item in events.absent]
    return found + [({item.thing}, item) for item in events.closed]


def _reach(problem: Problem, sites: set[str], outage: Outage) -> list[int]:
    """The site-days of an outage."""
    days = range(outage.start // DAY, (outage.end - 1) // DAY + 1)
    return [
        siteday.index
        for siteday in problem.sitedays
        if siteday.day in days and problem.network.sites[siteday.site].id in sites
    ]


def _rests(
    problem: Problem, plan: Plan, spots: dict[int, Spot], cares: dict[int, Spot],
    hit: dict[int, str], lost_care: dict[int, tuple[int, str]], touched: set[int],
) -> Rests:  # fmt: skip
    """All breaks: those that stand, and those that must find a new time.

    Bookings, and in the last resort care, give way to a break that has no free time.
    """
    network, costs = problem.network, Costs(problem)
    rests, missing = split_rests(network, plan.breaks)
    for (person, number), wanted in missing.items():
        technician = network.technicians[person]
        shift = technician.shifts[number]
        mine = [
            Busy(item.start, item.start + item.minutes, float("inf"))
            for item in problem.fixed_of.values()
            if item.technician == technician.id
        ]
        in_way = [
            (kind, key, _span(problem, spot))
            for kind, places in (("booking", spots), ("care", cares))
            for key, spot in places.items()
            if _person(problem, spot) == person
        ]
        for kind, key, (low, high) in in_way:
            weight = costs.of(key, None) if kind == "booking" else CARE_WEIGHT
            mine.append(Busy(low, high, weight))
        start = rests[person, number] = place_rest(shift, wanted, mine)
        end = start + shift.break_minutes
        why = f"technician {technician.id}'s break had to move"
        for kind, key, (low, high) in in_way:
            if low < end and start < high:
                if kind == "booking":
                    touched.add(spots.pop(key).g)
                    hit[key] = why
                else:
                    touched.add(cares.pop(key).g)
                    lost_care[key] = (low, why)
        touched |= _days_of(problem, person, start, end)
    return rests


def _span(problem: Problem, spot: Spot) -> tuple[int, int]:
    start = problem.sitedays[spot.g].day * DAY + spot.block.start
    return start, start + spot.block.minutes


def _person(problem: Problem, spot: Spot) -> int:
    if spot.block.worker < 0:
        return -1
    return problem.sitedays[spot.g].workers[spot.block.worker].technician


def _days_of(problem: Problem, person: int, start: int, end: int) -> set[int]:
    """The site-days of a technician that a time touches."""
    days: Sequence[int] = range(start // DAY, (end - 1) // DAY + 1)
    return {
        siteday.index
        for siteday in problem.sitedays
        if siteday.day in days and any(w.technician == person for w in siteday.workers)
    }
