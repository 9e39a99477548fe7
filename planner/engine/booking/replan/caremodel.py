"""Care of one site by CP-SAT, where it fits only if breaks or other care move.

Bookings may give way at what leaving them out costs; fixed appointments never do. Care is left out
only where the model finds no way at all.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.engine.booking.problem import Problem
from planner.engine.booking.replan.board import Spot, cut_runs
from planner.engine.booking.replan.care import could_start, rooms
from planner.engine.booking.replan.rests import Rests
from planner.engine.booking.replan.scene import Scene
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.sat import run_model
from planner.engine.units import DAY

EFFORT = 5.0
"""Deterministic seconds for the care of one site."""
SCALE = 100
LOST = 10_000_000
CARE_MOVED = 3_000
BREAK_MOVED = 1_000

Place = tuple[cp_model.IntVar, cp_model.IntVar, int, int, int]
"""Chosen, start, site-day, station and worker of one way to place a care."""


@dataclass(slots=True)
class _Model:
    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    stations: dict[tuple[int, int], list[cp_model.IntervalVar]] = field(default_factory=dict)
    workers: dict[tuple[int, int], list[cp_model.IntervalVar]] = field(default_factory=dict)
    places: dict[int, list[Place]] = field(default_factory=dict)
    gone: dict[int, cp_model.IntVar] = field(default_factory=dict)
    rests: dict[tuple[int, int], cp_model.IntVar] = field(default_factory=dict)
    cost: list[cp_model.LinearExprT] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class CareChange:
    """What the model decided: places of care, breaks that moved, bookings that give way.

    ``proven`` says that care which has no place can have none.
    """

    care: dict[int, Spot]
    rests: Rests
    gone: tuple[int, ...]
    proven: bool


def place_with_model(
    scene: Scene, floating: Problem, site: int, missing: dict[int, int]
) -> CareChange:
    """Place a site's missing care (with where each was before) and, if need be, its other care.

    ``floating`` is the problem whose breaks are not frozen: their windows are taken from it.
    """
    board, model = scene.board, _Model()
    days = [siteday for siteday in board.problem.sitedays if siteday.site == site]
    for siteday in days:
        _standing(scene, model, siteday, floating.sitedays[siteday.index])
    here = {siteday.index for siteday in days}
    old = {care: spot for care, spot in board.care.items() if spot.g in here}
    for care in [*old, *missing]:
        _care(scene, model, care, missing.get(care), old.get(care))
    for group in (*model.stations.values(), *model.workers.values()):
        model.cp.add_no_overlap(group)
    model.cp.minimize(sum(model.cost))
    solver, solved, optimal = run_model(model.cp, EFFORT)
    if not solved:
        return CareChange({}, {}, (), False)
    placed: dict[int, Spot] = {}
    for care, places in model.places.items():
        for used, start, g, station, worker in places:
            if solver.value(used):
                minutes = board.problem.network.care[care].minutes
                placed[care] = Spot(g, Block(solver.value(start), minutes, station, worker))
    rests: Rests = {}
    for (g, w), start in model.rests.items():
        siteday = board.problem.sitedays[g]
        worker_there = siteday.workers[w]
        at = siteday.day * DAY + solver.value(start)
        rests[worker_there.technician, worker_there.shift] = at
    gone = tuple(r for r, literal in model.gone.items() if solver.value(literal))
    return CareChange(placed, rests, gone, optimal)


def _standing(scene: Scene, model: _Model, siteday: SiteDay, floating: SiteDay) -> None:
    """Fixed appointments stand, bookings stay or give way, breaks move in their windows."""
    g = siteday.index
    rest_at = {}
    for block in siteday.fixed:
        if block.request >= 0:
            _block(model, g, block, None)
        else:
            rest_at[block.worker] = block
    for request, block in scene.board.days[g].items():
        gone = model.cp.new_bool_var("")
        model.gone[request] = gone
        model.cost.append(round(SCALE * scene.costs.of(request, None)) * gone)
        _block(model, g, block, ~gone)
    for w, block in rest_at.items():
        worker = floating.workers[w]
        if worker.break_minutes != block.minutes:
            _block(model, g, block, None)
            continue
        first = max(worker.start, worker.break_start)
        last = min(worker.end, worker.break_end) - worker.break_minutes
        start = model.cp.new_int_var(min(first, block.start), max(last, block.start), "")
        moved = model.cp.new_bool_var("")
        model.cp.add(start == block.start).only_enforce_if(~moved)
        model.cost.append(BREAK_MOVED * moved)
        model.rests[g, w] = start
        span = model.cp.new_fixed_size_interval_var(start, block.minutes, "")
        model.workers.setdefault((g, w), []).append(span)


def _block(
    model: _Model, g: int, block: Block, present: cp_model.IntVar | cp_model.BoolVarT | None
) -> None:
    for groups, place in ((model.stations, block.station), (model.workers, block.worker)):
        if place < 0:
            continue
        if present is None:
            span = model.cp.new_fixed_size_interval_var(block.start, block.minutes, "")
        else:
            span = model.cp.new_optional_fixed_size_interval_var(
                block.start, block.minutes, present, ""
            )
        groups.setdefault((g, place), []).append(span)


def _care(scene: Scene, model: _Model, care: int, was: int | None, old: Spot | None) -> None:
    """One choice of day, worker and start, or none at all; staying costs nothing."""
    problem = scene.board.problem
    if old is not None:
        was = problem.sitedays[old.g].day * DAY + old.block.start
    places = model.places.setdefault(care, [])
    stays = []
    for room in rooms(scene, care, was or 0):
        siteday = problem.sitedays[room.g]
        stations, workers = cut_runs(siteday, [b for b in siteday.fixed if b.request >= 0])
        for w in room.workers:
            run = stations[room.station]
            spans = could_start(run, room.minutes)
            if w >= 0:
                spans = [k for k in spans if workers[w][k] >= room.minutes]
            if not spans:
                continue
            used = model.cp.new_bool_var("")
            start = model.cp.new_int_var_from_domain(cp_model.Domain.from_values(spans), "")
            span = model.cp.new_optional_fixed_size_interval_var(start, room.minutes, used, "")
            model.stations.setdefault((room.g, room.station), []).append(span)
            if w >= 0:
                model.workers.setdefault((room.g, w), []).append(span)
            places.append((used, start, room.g, room.station, w))
            if old is not None and (old.g, old.block.worker) == (room.g, w):
                stay = model.cp.new_bool_var("")
                model.cp.add(start == old.block.start).only_enforce_if(stay)
                model.cp.add_implication(stay, used)
                stays.append(stay)
    used_at_all = sum(place[0] for place in places)
    lost = model.cp.new_bool_var("")
    model.cp.add(used_at_all + lost == 1)
    model.cost.append(LOST * lost)
    if old is not None:
        model.cost.append(CARE_MOVED - CARE_MOVED * sum(stays))
