"""Free places on a board: where a request fits to the minute without moving anybody."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.engine.booking.replan.board import Bools, Ints, Spot
from planner.engine.booking.replan.gaps import makes_room
from planner.engine.booking.replan.scene import Scene, Stretch
from planner.engine.booking.siteday import Block
from planner.engine.units import DAY

TRIES = 10
"""Places of one site-day that are judged before it counts as taken."""
TRIES_IN_GAP = 3
"""Places in one gap of a station and a worker that are judged."""


def find_place(
    scene: Scene, request: int, *, below: float = np.inf, avoid: frozenset[int] = frozenset()
) -> Spot | None:
    """The cheapest free place of a request that keeps every promise and costs less than ``below``.

    ``below`` is compared with the whole cost, the move included. Among places of one site-day the
    one whose told time is nearest to the appointment's is taken. Site-days in ``avoid`` are passed
    over.
    """
    move = scene.costs.of(request, None) - scene.costs.out(request)
    for charge, g in scene.costs.places(request):
        if charge + move >= below:
            return None
        if g not in avoid:
            found = place_on(scene, request, g)
            if found is not None:
                return found
    return None


def place_on(scene: Scene, request: int, g: int) -> Spot | None:
    """A free place of a request on one site-day, or None."""
    minutes, profile = scene.costs.minutes(request, g)
    if not has_gap(scene, request, g):
        return None
    tries: dict[tuple[int, int, int], int] = {}
    total = 0
    for start, station, worker, gap in candidates(scene, request, g):
        known = (station, worker, gap)
        if tries.get(known, 0) == TRIES_IN_GAP:
            continue
        if total == TRIES:
            break
        block = Block(start, minutes, station, worker, profile, request)
        if scene.accepts(g, block):
            return Spot(g, block)
        tries[known] = tries.get(known, 0) + 1
        total += 1
    return None


def has_gap(scene: Scene, request: int, g: int) -> bool:
    """Whether a request fits a site-day by the clock; promises are not looked at."""
    minutes, _ = scene.costs.minutes(request, g)
    if scene.board.longest(g) < minutes or not scene.holds_reserve(request, g, minutes):
        return False
    return bool(_open_starts(scene, request, g))


def make_room(scene: Scene, request: int, g: int) -> list[int]:
    """The bookings of a site-day any of which, were it gone, would make room for a request.

    By the clock alone; what is fixed for the request (needs, available times) is kept.
    """
    minutes, _ = scene.costs.minutes(request, g)
    stations, workers, allowed = _able(scene, request, g)
    others, blocks = scene.board.blocks(g)
    found = makes_room(*scene.board.runs(g), stations, workers, allowed, minutes, blocks)
    return [others[k] for k in np.flatnonzero(found).tolist()]


def candidates(scene: Scene, request: int, g: int) -> Iterator[tuple[int, int, int, int]]:
    """(start, station, worker, gap) by preference; ``gap`` is the first start of the gap.

    Nearest to the told time of the appointment, at its station, with its technician, and as near
    the told time as the grain allows; a request without one is told the earliest time.
    """
    problem = scene.board.problem
    siteday, grain = problem.sitedays[g], problem.network.grain
    item = problem.movable_of.get(request)
    home, at, person = -1, -1, -1
    if item is not None:
        home = item.start - siteday.day * DAY
        at = problem.index.station[item.station]
        person = problem.index.technician[item.technician]
    wanted = home % DAY if item is not None else 0
    found = []
    for s, w, low, high in _open_starts(scene, request, g):
        new_station = siteday.stations[s] != at
        new_person = siteday.workers[w].technician != person
        for start in _starts(low, high, wanted, grain):
            far = abs(start - start % grain - (wanted - wanted % grain))
            key = (far, new_station + new_person, start % grain, start, s, w)
            found.append((key, (start, s, w, low)))
    for _, place in sorted(found):
        yield place


def _open_starts(scene: Scene, request: int, g: int) -> list[Stretch]:
    """The stretches in which the request could start, for every pair that meets its needs.

    By the clock alone; kept for all who ask for the same of a site-day as it stands.
    """
    problem = scene.board.problem
    minutes, profile = scene.costs.minutes(request, g)
    key = (
        g, scene.board.version[g], minutes, int(problem.needs.feature_of[request]),
        problem.needs.skill_of[request, profile], problem.network.requests[request].available,
    )  # fmt: skip
    known = scene.gaps.get(key)
    if known is None:
        stations, workers, allowed = _able(scene, request, g)
        station_run, worker_run = scene.board.runs(g)
        people = _stretches(worker_run[workers] >= minutes)
        known = scene.gaps[key] = [
            (int(stations[i]), int(workers[j]), max(first, low), min(last, high))
            for i, first, last in _stretches((station_run[stations] >= minutes) & allowed)
            for j, low, high in people
            if max(first, low) <= min(last, high)
        ]
    return known


def _stretches(free: Bools) -> list[tuple[int, int, int]]:
    """The stretches of True in each row, as (row, first, last)."""
    edges = np.diff(free, axis=1, prepend=False, append=False)
    rows, at = np.nonzero(edges)
    return list(zip(rows[::2].tolist(), at[::2].tolist(), (at[1::2] - 1).tolist(), strict=True))


def _able(scene: Scene, request: int, g: int) -> tuple[Ints, Ints, Bools]:
    """Stations and workers that meet a request's needs, and the starts that it is available for."""
    known = scene.able.get((request, g))
    if known is None:
        problem = scene.board.problem
        needs, siteday = problem.needs, problem.sitedays[g]
        minutes, profile = scene.costs.minutes(request, g)
        places = np.array(siteday.stations, dtype=np.intp)
        people = np.array([worker.technician for worker in siteday.workers], dtype=np.intp)
        offers = needs.station_ok[needs.feature_of[request], places]
        can = needs.technician_ok[needs.skill_of[request, profile], people]
        known = (
            np.flatnonzero(offers).astype(np.int32), np.flatnonzero(can).astype(np.int32),
            _allowed(scene, request, siteday.day, minutes),
        )  # fmt: skip
        scene.able[request, g] = known
    return known


def _allowed(scene: Scene, request: int, day: int, minutes: int) -> Bools:
    available = scene.board.problem.network.requests[request].available
    allowed = np.full(DAY, not available)
    for window in available:
        low, high = window.start - day * DAY, window.end - day * DAY - minutes
        allowed[max(0, low) : max(0, high + 1)] = True
    return allowed


def _starts(low: int, high: int, wanted: int, grain: int) -> set[int]:
    """Starts of a stretch worth a look: its ends, the grain next to them, and near the wanted."""
    first, last = low + -low % grain, high - high % grain
    middle = (low + high) // 2
    near = min(max(wanted, low), high)
    asked = {low, high, first, last, near, near - near % grain, middle - middle % grain}
    return {start for start in asked if low <= start <= high}
