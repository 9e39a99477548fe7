"""``python -m tests.bench.programs M L``: which solver the allocation program is given to.

The program of a network on the options that can matter after the ascent (`worth_a_column`), solved
from nothing by each solver that MathOpt offers for linear programs (PDLP with two threads):
seconds, value against the ascent's bound, peak memory so far. The value is that of these columns,
so at or above the optimum; a run goes on from there by adding columns.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Sequence
from datetime import timedelta

from ortools.math_opt.python import mathopt

from planner.engine.booking.allocate.ascent import Ascent, ascend
from planner.engine.booking.allocate.capacity import build_capacity
from planner.engine.booking.allocate.linear import Program, worth_a_column
from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.allocate.windows import with_windows
from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.problem import build_problem
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.sessions.planned import planned_minutes

SOLVERS = {
    "glop": mathopt.SolverType.GLOP,
    "pdlp": mathopt.SolverType.PDLP,
    "highs": mathopt.SolverType.HIGHS,
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the networks, climb, solve, print; 1 where no solver found an optimum."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.programs", description=__doc__)
    parser.add_argument("cases", nargs="+", choices=SIZES, metavar="SIZE")
    parser.add_argument("--seed", type=int, default=1, help="of the network (1)")
    parser.add_argument("--seconds", type=float, default=120.0, help="for each solve (120)")
    parser.add_argument("--solvers", nargs="+", choices=SOLVERS, default=list(SOLVERS))
    asked = parser.parse_args(arguments)
    failed = False
    for name in asked.cases:
        program, ascent = laid_out(name, asked.seed)
        values = [solve(program, ascent, solver, asked.seconds) for solver in asked.solvers]
        failed = failed or all(value is None for value in values)
    return int(failed)


def laid_out(name: str, seed: int) -> tuple[Program, Ascent]:
    """The first program of a network of a size, and the ascent that it starts from."""
    network = generate(SIZES[name], seed=seed)
    lengths = {
        item.id: planned_minutes(item, network.policy, network.grain) for item in network.profiles
    }
    problem = build_problem(with_breaks_in_shifts(network), lengths)
    since = time.perf_counter()
    options = build_options(problem)
    capacity = with_windows(problem, options, build_capacity(problem, options))
    built = time.perf_counter()
    ascent = ascend(options, capacity)
    climbed = time.perf_counter()
    _say(
        f"{name}: {len(options.cost)} options in {built - since:.1f} s, {len(capacity.cap)} rows, "
        f"ascent {ascent.bound:,.2f} in {climbed - built:.1f} s"
    )
    program = Program(options, capacity)
    program.add(worth_a_column(options, capacity, ascent.prices))
    _say(f"{program.size} columns laid out in {time.perf_counter() - climbed:.1f} s")
    return program, ascent


def solve(program: Program, ascent: Ascent, solver: str, seconds: float) -> float | None:
    """The optimum of the program's columns by a solver, or None where time ran out."""
    since = time.perf_counter()
    params = mathopt.SolveParameters(
        time_limit=timedelta(seconds=seconds), threads=2 if solver == "pdlp" else None
    )
    result = mathopt.solve(program.model, SOLVERS[solver], params=params)
    took = time.perf_counter() - since
    words, value = result.termination.reason.name.lower(), None
    if result.termination.reason == mathopt.TerminationReason.OPTIMAL:
        value = result.objective_value() + program.constant
        words += f", {value:,.2f}, {value / ascent.bound - 1:+.4%} of the ascent"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
    _say(f"  {solver:6} {took:7.1f} s  {words}  ({peak:,.0f} MB)")
    return value


def _say(line: str) -> None:
    print(line, flush=True)


if __name__ == "__main__":
    sys.exit(main())
