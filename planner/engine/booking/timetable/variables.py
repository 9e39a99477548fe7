"""Variables of the exact day model (MODEL.md, D1 to D3)."""

from __future__ import annotations

from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job


@dataclass(slots=True)
class JobVars:
    """One job: when it starts, whether it is placed, and with whom and where.

    ``stations`` and ``workers`` map a place in the site-day's list to a literal; only able ones
    have one.
    """

    job: Job
    start: cp_model.IntVar
    present: cp_model.IntVar
    stations: dict[int, cp_model.IntVar]
    workers: dict[int, cp_model.IntVar]


@dataclass(slots=True)
class DayVars:
    """The day model's variables; ``rests`` maps a worker to the start of the break."""

    cp: cp_model.CpModel
    siteday: SiteDay
    jobs: list[JobVars] = field(default_factory=list)
    rests: dict[int, cp_model.IntVar] = field(default_factory=dict)
    standing: list[Block] = field(default_factory=list)


def build_variables(packer: Packer, siteday: SiteDay, demand: Demand) -> DayVars:
    """Variables of a site-day's model; jobs that fit nowhere on it are left out."""
    model = DayVars(cp_model.CpModel(), siteday)
    model.standing = [*siteday.fixed, *demand.pinned, *(block for _, block in demand.care)]
    needs = packer.problem.needs
    for job in demand.jobs:
        starts = _starts(packer, siteday, job)
        if starts.is_empty():
            continue
        able = needs.station_ok[needs.feature_of[job.request]]
        can = needs.technician_ok[needs.skill_of[job.request, job.profile]]
        name = str(job.request)
        model.jobs.append(
            JobVars(
                job=job,
                start=model.cp.new_int_var_from_domain(starts, f"start {name}"),
                present=model.cp.new_bool_var(f"placed {name}"),
                stations={
                    k: model.cp.new_bool_var(f"at {name} {k}")
                    for k, station in enumerate(siteday.stations)
                    if able[station]
                },
                workers={
                    k: model.cp.new_bool_var(f"by {name} {k}")
                    for k, worker in enumerate(siteday.workers)
                    if can[worker.technician]
                },
            )
        )
    for k, worker in enumerate(siteday.workers):
        if worker.break_minutes:
            latest = worker.break_end - worker.break_minutes
            model.rests[k] = model.cp.new_int_var(worker.break_start, latest, f"break {k}")
    return model


def _starts(packer: Packer, siteday: SiteDay, job: Job) -> cp_model.Domain:
    windows = packer.asking.windows(job.request, siteday.day, job.minutes)
    opens = [[a, b - job.minutes] for a, b in siteday.opens if b - a >= job.minutes]
    inside = cp_model.Domain.from_intervals(opens)
    asked = cp_model.Domain.from_intervals([[a, b - 1] for a, b in windows])
    return inside.intersection_with(asked)
