"""All care of one site by CP-SAT: the exact answer where the quick way fails (MODEL.md, care)."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.sat import run_model
from planner.engine.errors import Fault, NetworkImpossible
from planner.engine.units import DAY

REMEDY = "widen its days, shorten it, or free its station or a technician"
EFFORT = 60.0


@dataclass(slots=True)
class _Model:
    cp: cp_model.CpModel = field(default_factory=cp_model.CpModel)
    stations: dict[tuple[int, int], list[cp_model.IntervalVar]] = field(default_factory=dict)
    workers: dict[tuple[int, int], list[cp_model.IntervalVar]] = field(default_factory=dict)
    choices: dict[int, list[tuple[cp_model.IntVar, cp_model.IntVar, int, int, int]]] = field(
        default_factory=dict
    )
    wanted: dict[int, cp_model.IntVar] = field(default_factory=dict)


def place_site_care(problem: Problem, site: int, cares: list[int]) -> dict[int, tuple[int, Block]]:
    """Place every care of a site beside fixed appointments and breaks.

    Raises
    ------
    NetworkImpossible
        Naming care that cannot be placed together, where CP-SAT proves it, or that it did not
        manage to place within its effort.
    """
    model = _Model()
    days = [siteday for siteday in problem.sitedays if siteday.site == site]
    for siteday in days:
        _standing(problem, model, siteday)
    for care in cares:
        _care(problem, model, care, days)
    for group in (*model.stations.values(), *model.workers.values()):
        model.cp.add_no_overlap(group)
    model.cp.maximize(sum(model.wanted.values()))
    solver, solved, proven = run_model(model.cp, EFFORT)
    if solved:
        missing = [care for care in cares if not solver.value(model.wanted[care])]
        if not missing:
            return {care: _chosen(problem, solver, model, care) for care in cares}
    else:
        missing = cares
    raise NetworkImpossible([_fault(problem, care, proven) for care in missing])


def _fault(problem: Problem, care: int, proven: bool) -> Fault:
    item = problem.network.care[care]
    why = "cannot be placed" if proven else "found no place within the effort of the search"
    text = (
        f"care {item.id} of station {item.station} ({item.minutes} min) {why} beside the other"
        " care, the fixed appointments and the breaks of its site"
    )
    return Fault(f"care[{care}]", text, REMEDY)


def _standing(problem: Problem, model: _Model, siteday: SiteDay) -> None:
    g = siteday.index
    for block in siteday.fixed:
        span = model.cp.new_fixed_size_interval_var(block.start, block.minutes, "")
        if block.station >= 0:
            model.stations.setdefault((g, block.station), []).append(span)
        if block.worker >= 0:
            model.workers.setdefault((g, block.worker), []).append(span)
    for w, worker in enumerate(siteday.workers):
        if worker.break_minutes:
            latest = worker.break_end - worker.break_minutes
            start = model.cp.new_int_var(worker.break_start, latest, "")
            span = model.cp.new_fixed_size_interval_var(start, worker.break_minutes, "")
            model.workers.setdefault((g, w), []).append(span)


def _care(problem: Problem, model: _Model, care: int, days: list[SiteDay]) -> None:
    item = problem.network.care[care]
    station = problem.index.station[item.station]
    choices = model.choices.setdefault(care, [])
    for siteday in days:
        if not item.earliest <= siteday.day <= item.latest:
            continue
        place = siteday.stations.index(station)
        workers = range(len(siteday.workers)) if item.technician else (-1,)
        for w in workers:
            run = siteday.station_run[place, :DAY]
            spans = [k for k in range(DAY) if run[k] >= item.minutes]
            if w >= 0:
                spans = [k for k in spans if siteday.worker_run[w, k] >= item.minutes]
            if not spans:
                continue
            used = model.cp.new_bool_var("")
            domain = cp_model.Domain.from_values(spans)
            start = model.cp.new_int_var_from_domain(domain, "")
            span = model.cp.new_optional_fixed_size_interval_var(start, item.minutes, used, "")
            model.stations.setdefault((siteday.index, place), []).append(span)
            if w >= 0:
                model.workers.setdefault((siteday.index, w), []).append(span)
            choices.append((used, start, siteday.index, place, w))
    wanted = model.cp.new_bool_var("")
    model.cp.add(sum(choice[0] for choice in choices) == wanted)
    model.wanted[care] = wanted


def _chosen(
    problem: Problem, solver: cp_model.CpSolver, model: _Model, care: int
) -> tuple[int, Block]:
    for used, start, g, place, w in model.choices[care]:
        if solver.value(used):
            minutes = problem.network.care[care].minutes
            return g, Block(solver.value(start), minutes, place, w)
    raise AssertionError("a placed care has a choice")
