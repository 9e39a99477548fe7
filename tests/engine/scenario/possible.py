"""Whether breaks, care and fixed appointments can all be placed: an exact model of its own.

It shares nothing with the generator's board: CP-SAT decides, site by site, over the raw network
(rules 3 to 7 of the network format).
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from ortools.sat.python import cp_model

from planner.engine.units import DAY

if TYPE_CHECKING:
    from planner.engine.network import Network, Shift, Window

Taken = defaultdict[tuple[str, str], list[cp_model.IntervalVar]]


def impossible_sites(network: Network) -> list[str]:
    """The sites at which breaks, care and fixed appointments exclude each other."""
    return [site.id for site in network.sites if not _possible(network, site.id)]


def _possible(network: Network, site: str) -> bool:
    model = cp_model.CpModel()
    taken: Taken = defaultdict(list)
    opening = next(one.open for one in network.sites if one.id == site)
    stations = {station.id: station for station in network.stations if station.site == site}
    shifts = [
        (technician.id, shift)
        for technician in network.technicians
        for shift in technician.shifts
        if shift.site == site
    ]
    for station in stations.values():
        for c in station.closed:
            span = model.new_fixed_size_interval_var(c.start, c.end - c.start, "closed")
            taken["station", station.id].append(span)
    for name, shift in shifts:
        if shift.break_minutes:
            first = max(shift.start, shift.break_start)
            last = min(shift.end, shift.break_end) - shift.break_minutes
            start = model.new_int_var(first, last, "break")
            span = model.new_fixed_size_interval_var(start, shift.break_minutes, "break")
            taken["technician", name].append(span)
    for item in network.appointments:
        if item.fixed and item.station in stations:
            span = model.new_fixed_size_interval_var(item.start, item.minutes, item.id)
            taken["station", item.station].append(span)
            taken["technician", item.technician].append(span)
    for care in network.care:
        if care.station in stations:
            spots = _spots(care.earliest, care.latest, care.minutes, opening)
            people: list[tuple[str | None, Shift | None]] = [(None, None)]
            if care.technician:
                people = list(shifts)
            _add_care(model, taken, (care.station, care.minutes), spots, people)
    for spans in taken.values():
        model.add_no_overlap(spans)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = 60
    status = solver.status_name(solver.solve(model))
    assert status in {"OPTIMAL", "FEASIBLE", "INFEASIBLE"}, f"{site}: not decided ({status})"
    return status != "INFEASIBLE"


def _spots(
    earliest: int, latest: int, minutes: int, opening: tuple[Window, ...]
) -> list[tuple[int, int]]:
    """First and last possible start in each opening time of the care's days."""
    return [
        (window.start, window.end - minutes)
        for window in opening
        if earliest <= window.start // DAY <= latest and window.end - window.start >= minutes
    ]


def _add_care(
    model: cp_model.CpModel,
    taken: Taken,
    what: tuple[str, int],
    spots: list[tuple[int, int]],
    people: list[tuple[str | None, Shift | None]],
) -> None:
    """One of the (opening time, person) pairs holds the care of ``what``: (station, minutes)."""
    station, minutes = what
    chosen = []
    for first, last in spots:
        for name, shift in people:
            low = first if shift is None else max(first, shift.start)
            high = last if shift is None else min(last, shift.end - minutes)
            if high < low:
                continue
            here = model.new_bool_var("here")
            start = model.new_int_var(low, high, "start")
            span = model.new_optional_fixed_size_interval_var(start, minutes, here, "care")
            taken["station", station].append(span)
            if name is not None:
                taken["technician", name].append(span)
            chosen.append(here)
    model.add_exactly_one(chosen)
