"""Constraints of the exact day model: the table of contents is `build_constraints`."""

from __future__ import annotations

from collections.abc import Iterable

from ortools.sat.python import cp_model

from planner.engine.booking.timetable.variables import DayVars, JobVars
from planner.engine.units import DAY

Intervals = list[cp_model.IntervalVar]


def build_constraints(model: DayVars, plain: set[int], plain_minutes: int) -> None:
    """Add every constraint; ``plain`` names the requests that count against the reserve."""
    one_station_and_worker_each(model)
    stations_do_one_thing_at_a_time(model)
    workers_do_one_thing_at_a_time(model)
    reserve_is_kept(model, plain, plain_minutes)


def one_station_and_worker_each(model: DayVars) -> None:
    """(D1) A placed job has exactly one station and one worker; another has none."""
    for item in model.jobs:
        model.cp.add(sum(item.stations.values()) == item.present)
        model.cp.add(sum(item.workers.values()) == item.present)


def stations_do_one_thing_at_a_time(model: DayVars) -> None:
    """(D2) Jobs, closures and standing blocks of a station do not overlap."""
    siteday = model.siteday
    for k in range(len(siteday.stations)):
        spans = _jobs_on(model, k, "stations")
        spans += _gaps(model, siteday.station_run[k, :DAY] > 0)
        spans += _standing(model, "station", k)
        model.cp.add_no_overlap(spans)


def workers_do_one_thing_at_a_time(model: DayVars) -> None:
    """(D3) Jobs, the break, standing blocks and the time off shift of a worker do not overlap."""
    siteday = model.siteday
    for k, worker in enumerate(siteday.workers):
        spans = _jobs_on(model, k, "workers")
        standing = _standing(model, "worker", k)
        rest = []
        if k in model.rests:
            minutes = worker.break_minutes
            rest.append(model.cp.new_fixed_size_interval_var(model.rests[k], minutes, ""))
        off_shift = _gaps(model, siteday.worker_run[k, :DAY] > 0)
        model.cp.add_no_overlap(spans + standing + rest + off_shift)


def reserve_is_kept(model: DayVars, plain: set[int], plain_minutes: int) -> None:
    """(D4) Minutes of jobs that are not rework stay within what the reserve leaves."""
    held = [item for item in model.jobs if item.job.request in plain]
    if held:
        used = sum(item.job.minutes * item.present for item in held)
        model.cp.add(used <= plain_minutes)


def _jobs_on(model: DayVars, place: int, kind: str) -> Intervals:
    spans = []
    for item in model.jobs:
        literal = _literals(item, kind).get(place)
        if literal is not None:
            spans.append(
                model.cp.new_optional_fixed_size_interval_var(
                    item.start, item.job.minutes, literal, ""
                )
            )
    return spans


def _literals(item: JobVars, kind: str) -> dict[int, cp_model.IntVar]:
    return item.stations if kind == "stations" else item.workers


def _standing(model: DayVars, kind: str, place: int) -> Intervals:
    return [
        model.cp.new_fixed_size_interval_var(block.start, block.minutes, "")
        for block in model.standing
        if (block.station if kind == "station" else block.worker) == place
    ]


def _gaps(model: DayVars, free: Iterable[bool]) -> Intervals:
    """The stretches of the day in which a thing is not to be had, as intervals."""
    spans, start = [], None
    for minute, is_free in enumerate([*free, True]):
        if not is_free and start is None:
            start = minute
        elif is_free and start is not None:
            spans.append(model.cp.new_fixed_size_interval_var(start, minute - start, ""))
            start = None
    return spans
