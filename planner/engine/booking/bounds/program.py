"""The allocation program of a plan that is already made, built again from the two files."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.booking.allocate.capacity import Capacity, build_capacity
from planner.engine.booking.allocate.options import Options, build_options
from planner.engine.booking.allocate.windows import with_windows
from planner.engine.booking.bounds.promises import with_promises
from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.problem import Problem, build_problem
from planner.engine.network import Network
from planner.engine.plan import Plan


@dataclass(frozen=True, slots=True)
class Program:
    """Options and rows, with the plan's lengths."""

    problem: Problem
    options: Options
    capacity: Capacity


def program_of(network: Network, plan: Plan, *, strong: bool) -> Program:
    """The program of rules 1 to 8, or a ``strong`` one, with rows of the promises too."""
    problem = build_problem(with_breaks_in_shifts(network), plan.lengths)
    options = build_options(problem)
    capacity = with_windows(problem, options, build_capacity(problem, options))
    if strong:
        capacity = with_promises(problem, options, capacity)
    return Program(problem, options, capacity)
