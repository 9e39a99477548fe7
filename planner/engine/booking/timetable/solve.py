"""Solve the exact day model with CP-SAT, from a list schedule as its hint."""

from __future__ import annotations

from dataclasses import dataclass

from ortools.sat.python import cp_model

from planner.engine.booking.siteday import SiteDay
from planner.engine.booking.timetable.constraints import build_constraints
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Slot, Timetable
from planner.engine.booking.timetable.objective import build_objective
from planner.engine.booking.timetable.sat import run_model
from planner.engine.booking.timetable.variables import DayVars, build_variables

LARGEST = 60_000
"""Literal pairs (jobs × (stations + workers) × jobs) above which the model is not tried whole."""


@dataclass(frozen=True, slots=True)
class Order:
    """Where the exact model puts things: slots by start, and each worker's break."""

    slots: tuple[Slot, ...]
    rests: dict[int, int]
    optimal: bool


def solve_day(
    packer: Packer, siteday: SiteDay, demand: Demand, value: dict[int, float],
    best: Timetable, effort: float,
) -> Order | None:  # fmt: skip
    """Choose and place jobs exactly, without the promises; None where nothing better is found.

    ``effort`` is CP-SAT's deterministic time. One thread and a fixed seed: the same model gives
    the same answer.
    """
    size = len(demand.jobs) ** 2 * (len(siteday.stations) + len(siteday.workers))
    if size > LARGEST or not siteday.workers or not siteday.stations:
        return None
    model = build_variables(packer, siteday, demand)
    requests = packer.problem.network.requests
    plain = {job.request for job in demand.jobs if not requests[job.request].rework}
    room = packer.asking.plain(siteday, demand, best.pinned)
    build_constraints(model, plain if siteday.reserve else set(), room)
    build_objective(model, value)
    _hint(model, best)
    solver, solved, optimal = run_model(model.cp, effort)
    if not solved:
        return None
    order = _read(solver, model, optimal)
    return order if len(order.slots) > 0 else None


def _hint(model: DayVars, best: Timetable) -> None:
    """A complete hint: an incomplete one is passed over by the solver."""
    where = {slot.job.request: slot for slot in best.slots}
    for item in model.jobs:
        slot = where.get(item.job.request)
        model.cp.add_hint(item.present, slot is not None)
        if slot is not None:
            model.cp.add_hint(item.start, slot.start)
        for places, mine in ((item.stations, "station"), (item.workers, "worker")):
            for k, literal in places.items():
                model.cp.add_hint(literal, slot is not None and getattr(slot, mine) == k)
    for k, start in model.rests.items():
        if best.rests[k] >= 0:
            model.cp.add_hint(start, best.rests[k])


def _read(solver: cp_model.CpSolver, model: DayVars, optimal: bool) -> Order:
    slots = []
    for item in model.jobs:
        if solver.value(item.present):
            station = next(k for k, literal in item.stations.items() if solver.value(literal))
            worker = next(k for k, literal in item.workers.items() if solver.value(literal))
            slots.append(Slot(item.job, solver.value(item.start), station, worker))
    slots.sort(key=lambda slot: (slot.start, slot.station))
    rests = {k: solver.value(start) for k, start in model.rests.items()}
    return Order(tuple(slots), rests, optimal)
