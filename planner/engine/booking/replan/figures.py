"""The figures of the new plan: bound, prices, cost, reasons."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from planner.engine.booking.allocate.ascent import Ascent, ascend
from planner.engine.booking.allocate.capacity import Capacity, build_capacity
from planner.engine.booking.allocate.linear import reduced_costs
from planner.engine.booking.allocate.options import Options, build_options
from planner.engine.booking.allocate.windows import with_windows
from planner.engine.booking.draft import Draft, fixed_cost
from planner.engine.booking.parts import bookings_of, breaks_of, care_of, moved_of
from planner.engine.booking.prices import prices_of
from planner.engine.booking.problem import Problem
from planner.engine.booking.reasons import Explainer
from planner.engine.booking.replan.scene import Scene
from planner.engine.booking.stages import floor
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Timetable
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.plan import CareUnplaced, Plan, Unbooked

STAGES = 4
"""Temperatures of the dual ascent."""
DRAWS = 1024
LENIENT = -4.0
"""The packer's guard: the draws behind a reason must not call what stands unsound."""


@dataclass(frozen=True, slots=True)
class Tables:
    """The allocation's tables for the network after the events; breaks are not frozen here."""

    problem: Problem
    options: Options
    capacity: Capacity


def tables(problem: Problem) -> Tables:
    """Options and capacity rows."""
    options = build_options(problem)
    return Tables(
        problem, options, with_windows(problem, options, build_capacity(problem, options))
    )


def prove(found: Tables, lost_care: Mapping[int, str]) -> Ascent:
    """Prices and a bound by dual ascent, for plans that place all care but ``lost_care``."""
    requests = len(found.problem.network.requests)
    for care in lost_care:
        found.options.unbooked[requests + care] = 0.0
    return ascend(found.options, found.capacity, stages=STAGES)


def finished_plan(
    scene: Scene, found: Tables, p_wait: dict[str, float], lost_care: Mapping[int, str],
    old: Plan, changed: set[int], seconds: dict[str, float], seed: int,
) -> Plan:  # fmt: skip
    """The board as a plan.

    Who was left out before keeps the reason of the ``old`` plan, unless one of the ``changed``
    site-days would have done: what was full may not be so now.
    """
    board, network = scene.board, scene.board.problem.network
    draft = _draft(scene, board.problem, found.options)
    bookings = bookings_of(draft, p_wait)
    objective = fixed_cost(board.problem) + sum(
        scene.costs.of(r, board.spots.get(r))
        for r in range(len(network.requests))
        if r not in board.problem.fixed_of
    )
    objective = round(objective, 6)
    ascent = prove(found, lost_care)
    bound = min(floor(ascent.bound + fixed_cost(board.problem)), objective)
    reduced = reduced_costs(found.options, found.capacity, ascent.prices)
    # Reasons are sought with breaks that float: what a moved break would free counts as room.
    packer = Packer(found.problem, draw_pool(network, draws=DRAWS, seed=seed), LENIENT, seed)
    explainer = Explainer(_draft(scene, found.problem, found.options), packer, reduced)
    ids = [request.id for request in network.requests]
    known = {
        item.request: item
        for item in old.unbooked
        if item.request in board.problem.index.request
        and not _could_go(found.options, board.problem.index.request[item.request], changed)
    }
    return Plan(
        bookings=bookings,
        care=care_of(draft),
        care_unplaced=tuple(
            CareUnplaced(network.care[c].id, why) for c, why in sorted(lost_care.items())
        ),
        breaks=breaks_of(draft),
        unbooked=tuple(
            known.get(ids[r]) or Unbooked(ids[r], (explainer.reason(r),))
            for r in range(len(network.requests))
            if r not in board.spots and r not in board.problem.fixed_of
        ),
        moved=moved_of(draft, bookings),
        lengths=old.lengths,
        objective=objective,
        bound=bound,
        gap=(objective - bound) / bound if bound > 0 else None,
        prices=prices_of(found.problem, found.capacity, ascent.prices),
        seconds=seconds,
    )


def _could_go(options: Options, request: int, sitedays: set[int]) -> bool:
    """Whether a request has an option on one of some site-days."""
    low, high = int(options.first[request]), int(options.first[request + 1])
    return not sitedays.isdisjoint(options.siteday[low:high].tolist())


def _draft(scene: Scene, problem: Problem, options: Options) -> Draft:
    """The board as a draft: everybody stands. A place is marked by its request's first option."""
    board = scene.board
    place = np.full(len(problem.network.requests), -1, dtype=np.int64)
    for r in board.spots:
        place[r] = options.first[r]
    days = [
        Timetable(
            g, pinned=tuple(sorted(mine.values(), key=lambda block: (block.start, block.station))),
            care=tuple(board.care_on(g)),
        )
        for g, mine in enumerate(board.days)
    ]  # fmt: skip
    return Draft(problem, options, place, days)
