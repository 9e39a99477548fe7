"""The exact day model for site-days that somebody without a place still wants.

Those who had to move anyway are packed anew together with those who wait, round everybody who
stands: list schedules first, then CP-SAT (`pack_hard`).
"""

from __future__ import annotations

from collections.abc import Iterable

from planner.engine.booking.replan.board import Spot
from planner.engine.booking.replan.scene import Scene, over_reserve
from planner.engine.booking.siteday import Block
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job, Timetable
from planner.engine.booking.timetable.hard import pack_hard

DAYS = 1
"""Site-days that are packed anew at most."""
WANTED = 6
"""Requests that are offered to one site-day."""
TRIALS = 8
EFFORT = 0.05
"""Deterministic seconds of CP-SAT for a site-day."""


def repack(scene: Scene, packer: Packer, queue: Iterable[int], loose: set[int]) -> list[int]:
    """Seat requests by packing site-days anew; returns those still without a place.

    ``loose`` are the requests that may move within their site-day: those whose move is paid for.
    """
    waiting = sorted(queue)
    wishes: dict[int, list[tuple[float, int]]] = {}
    for request in waiting:
        for charge, g in scene.costs.places(request):
            minutes, _ = scene.costs.minutes(request, g)
            if _idle(scene, g) >= minutes:
                wishes.setdefault(g, []).append((charge - scene.costs.out(request), request))
    days = sorted(wishes, key=lambda g: (-_idle(scene, g), g))[:DAYS]
    for g in days:
        wanted = [r for _, r in sorted(wishes[g]) if r in waiting][:WANTED]
        for seated in _pack(scene, packer, g, wanted, loose) if wanted else ():
            waiting.remove(seated)
    return waiting


def _idle(scene: Scene, g: int) -> int:
    """Minutes in which some worker and some station are free."""
    stations, workers = scene.board.runs(g)
    if not len(stations) or not len(workers):
        return 0
    return int(((stations > 0).any(axis=0) & (workers > 0).any(axis=0)).sum())


def _pack(scene: Scene, packer: Packer, g: int, wanted: list[int], loose: set[int]) -> list[int]:
    """Pack a site-day anew; returns who of ``wanted`` was seated (nobody else loses a place)."""
    board = scene.board
    old = {r: block for r, block in board.days[g].items() if r in loose}
    pinned = tuple(block for r, block in board.days[g].items() if r not in loose)
    jobs = [Job(r, block.profile, block.minutes) for r, block in old.items()]
    for r in wanted:
        minutes, profile = scene.costs.minutes(r, g)
        jobs.append(Job(r, profile, minutes))
    # What stands already is worth more than anybody new, so that nobody is traded for another.
    worth = [1e6] * len(old) + [scene.costs.out(r) - scene.costs.charge(r, g) for r in wanted]
    demand = Demand(tuple(jobs), pinned, tuple(board.care_on(g)))
    found = pack_hard(packer, g, demand, tuple(worth), seed=packer.seed, trials=TRIALS,
                      effort=EFFORT)  # fmt: skip
    seated = {slot.job.request for slot in found.slots}
    new = [r for r in wanted if r in seated]
    if not new or not set(old) <= seated or not found.sound or found.unpinned:
        return []
    for r in old:
        board.take(r)
    for r, spot in _spots(found).items():
        board.put(r, spot)
    over = board.problem.sitedays[g].reserve and over_reserve(board, g) > 0
    if over or scene.broken([g]):
        for r in seated:
            board.take(r)
        for r, block in old.items():
            board.put(r, Spot(g, block))
        return []
    return new


def _spots(found: Timetable) -> dict[int, Spot]:
    return {
        slot.job.request: Spot(
            found.siteday,
            Block(slot.start, slot.job.minutes, slot.station, slot.worker, slot.job.profile,
                  slot.job.request),
        )
        for slot in found.slots
    }  # fmt: skip
