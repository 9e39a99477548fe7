"""A bound on what a plan costs that keeps its promises too, beside the plan file's."""

from __future__ import annotations

from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.bounds.program import program_of
from planner.engine.booking.draft import fixed_cost
from planner.engine.network import Network
from planner.engine.plan import Plan


def strong_bound(network: Network, plan: Plan, *, threads: int = 1) -> float:
    """A lower bound on the cost of any plan of ``network`` that keeps rules 1 to 9.

    With the ``lengths`` of ``plan``, as the plan's own bound, which leaves rule 9 aside. Promises
    are taken at their word: a plan that keeps one by a hair less, within what simulation can tell,
    may cost a little less. ``threads`` may work at once; their number changes only the time.
    """
    found = program_of(network, plan, strong=True)
    ascent = ascend(found.options, found.capacity, threads=threads)
    return max(0.0, ascent.bound + fixed_cost(found.problem))
