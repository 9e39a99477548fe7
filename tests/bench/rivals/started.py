"""The whole model again, started from the plan of first come, first served."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import replace

from ortools.sat.python import cp_model

from planner.engine.booking.problem import Problem
from planner.engine.units import DAY, told
from tests.bench.rivals.answer import Answer, Ask, NoPlan, Seat, Seated
from tests.bench.rivals.ground import Ground
from tests.bench.rivals.monolith import Monolith, build
from tests.bench.rivals.served import keep_book


def monolith_started(ask: Ask) -> Answer:
    """Build, hint a whole plan, solve; where nothing is found in time, the start is the answer.

    Raises NoPlan where there is no start.
    """
    began = time.monotonic()
    ground = Ground(ask.network, dict(ask.lengths))
    start = keep_book(ground)
    left = ask.seconds - (time.monotonic() - began)
    try:
        model = build(replace(ask, seconds=left))
        for variable, value in hints(model, start).values():
            model.cp.add_hint(variable, value)
        return model.solve(ask)
    except NoPlan as error:
        return Answer(start.plan(ground), None, f"its start: {error}")


def hints(model: Monolith, plan: Seated) -> dict[int, tuple[cp_model.IntVar, int]]:
    """A value for every variable of the model, by the variable's index."""
    found: dict[int, tuple[cp_model.IntVar, int]] = {}

    def hint(variable: cp_model.IntVar, value: int) -> None:
        found[variable.index] = (variable, value)

    def one_of(literals: Mapping[int, cp_model.IntVar], chosen: int | None) -> None:
        for k, literal in literals.items():
            hint(literal, int(k == chosen))

    seats = {seat.request: seat for seat in plan.seats}
    for r, places in model.places.items():
        seat = seats.get(r)
        for place in places:
            here = seat if seat is not None and seat.siteday == place.choice.siteday else None
            hint(place.present, int(here is not None))
            hint(place.start, here.start if here else _first(place.start))
            one_of(place.stations, here.station if here else None)
            one_of(place.workers, here.worker if here else None)
        hint(model.out[r], int(seat is None))
        if r in model.moved:
            hint(model.moved[r], int(seat is None or not _stands(model.problem, seat)))
    for c, options in model.care.items():
        g, start, worker = plan.care[c]
        for put in options:
            mine = put.siteday == g
            hint(put.present, int(mine))
            hint(put.start, start if mine else _first(put.start))
            one_of(put.workers, worker if mine else None)
    for key, rest in model.rests.items():
        hint(rest, plan.rests[key])
    plain = {seat.siteday for seat in plan.seats if not model.ground.is_rework(seat.request)}
    for g, some in model.some.items():
        hint(some, int(g in plain))
    for key, (shared, first, table) in model.shared.items():
        hint(shared, table[plan.rests[key] - first])
    return found


def _first(variable: cp_model.IntVar) -> int:
    return int(variable.proto.domain[0])


def _stands(problem: Problem, seat: Seat) -> bool:
    """Whether somebody who was booked keeps station, technician and told time."""
    item, siteday = problem.movable_of[seat.request], problem.sitedays[seat.siteday]
    grain = problem.network.grain
    return (
        siteday.stations[seat.station] == problem.index.station[item.station]
        and siteday.workers[seat.worker].technician == problem.index.technician[item.technician]
        and told(siteday.day * DAY + seat.start, grain) == told(item.start, grain)
    )
