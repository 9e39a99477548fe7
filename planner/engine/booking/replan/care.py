"""Care that lost its time is placed again; bookings give way to it only where nothing is free."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.replan.board import Ints, Spot, cut_runs
from planner.engine.booking.replan.scene import Scene
from planner.engine.booking.siteday import Block
from planner.engine.units import DAY

TRIES = 6
"""Free times of one site-day that are judged."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Room:
    """Where one care may go on one site-day: its station's place, able workers (-1: none)."""

    g: int
    station: int
    workers: tuple[int, ...]
    minutes: int
    wanted: int


def rooms(scene: Scene, care: int, was: int) -> list[Room]:
    """The site-days of a care's window, the one of ``was`` (network minutes) and near ones first.

    Of the workers, those with fewest skills come first.
    """
    problem = scene.board.problem
    network = problem.network
    item = network.care[care]
    station = problem.index.station[item.station]
    site = problem.index.site[network.stations[station].site]
    found = []
    for day in range(max(0, item.earliest), min(network.days - 1, item.latest) + 1):
        g = problem.at.get((site, day))
        if g is None:
            continue
        siteday = problem.sitedays[g]
        workers: tuple[int, ...] = (-1,)
        if item.technician:
            skills = [len(network.technicians[w.technician].skills) for w in siteday.workers]
            workers = tuple(sorted(range(len(skills)), key=lambda w: (skills[w], w)))
        place = siteday.stations.index(station)
        found.append(Room(g, place, workers, item.minutes, was % DAY))
    return sorted(found, key=lambda room: (abs(problem.sitedays[room.g].day - was // DAY), room.g))


def place_free(scene: Scene, care: int, was: int) -> bool:
    """Place a care at a free time that keeps every promise; False where there is none."""
    for room in rooms(scene, care, was):
        for block in _free_blocks(scene, room)[:TRIES]:
            if scene.accepts(room.g, block):
                scene.board.put_care(care, Spot(room.g, block))
                return True
    return False


def _free_blocks(scene: Scene, room: Room) -> list[Block]:
    """Free times nearest the wanted one: for each worker one in each gap."""
    stations, workers = scene.board.runs(room.g)
    found = []
    for rank, w in enumerate(room.workers):
        run = stations[room.station]
        if w >= 0:
            run = np.minimum(run, workers[w])
        starts = np.flatnonzero(run >= room.minutes)
        if not len(starts):
            continue
        for gap in np.split(starts, np.flatnonzero(np.diff(starts) > 1) + 1):
            start = int(gap[np.argmin(np.abs(gap - room.wanted))])
            found.append((abs(start - room.wanted), rank, start, w))
    return [Block(start, room.minutes, room.station, w) for _, _, start, w in sorted(found)]


def place_displacing(scene: Scene, care: int, was: int) -> list[int] | None:
    """Place a care beside what is fixed, breaks and other care; bookings in its way lose theirs.

    The time is chosen at which those in the way would cost least to leave out. Returns them, taken
    off the board, or None where there is no such time.
    """
    board = scene.board
    best: tuple[float, int, int] | None = None
    chosen: Spot | None = None
    for rank, room in enumerate(rooms(scene, care, was)):
        stations, workers = cut_runs(board.problem.sitedays[room.g], board.standing(room.g))
        for w in room.workers:
            run = stations[room.station]
            if w >= 0:
                run = np.minimum(run, workers[w])
            starts = np.flatnonzero(run >= room.minutes)
            if not len(starts):
                continue
            weight = _in_the_way(scene, room, w)[starts]
            far = np.abs(starts - room.wanted)
            k = int(np.lexsort((far, weight))[0])
            key = (float(weight[k]), rank, int(far[k]))
            if best is None or key < best:
                best = key
                chosen = Spot(room.g, Block(int(starts[k]), room.minutes, room.station, w))
    if chosen is None:
        return None
    gone = clear(scene, chosen)
    board.put_care(care, chosen)
    return gone


def _in_the_way(scene: Scene, room: Room, worker: int) -> Floats:
    """For each start of a care: what the bookings that it would meet cost to leave out."""
    weight = np.zeros(DAY)
    for request, block in scene.board.days[room.g].items():
        if block.station == room.station or (worker >= 0 and block.worker == worker):
            low = max(0, block.start - room.minutes + 1)
            weight[low : block.start + block.minutes] += scene.costs.of(request, None)
    return weight


def clear(scene: Scene, spot: Spot) -> list[int]:
    """Take the bookings that meet a block off the board; returns them."""
    block = spot.block
    gone = [request for request, other in scene.board.days[spot.g].items() if meets(block, other)]
    for request in gone:
        scene.board.take(request)
    return gone


def meets(block: Block, other: Block) -> bool:
    """Whether two blocks of a site-day share a minute of a station or of a worker."""
    together = block.start < other.start + other.minutes and (
        other.start < block.start + block.minutes
    )
    same = block.station >= 0 and block.station == other.station
    return together and (same or (block.worker >= 0 and block.worker == other.worker))


def could_start(run: Ints, minutes: int) -> list[int]:
    """The minutes at which something of a length could start."""
    return [int(start) for start in np.flatnonzero(run >= minutes)]
