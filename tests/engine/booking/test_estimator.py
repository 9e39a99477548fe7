"""Estimates kept by date are those of an estimate from nothing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.draft import Draft
from planner.engine.booking.estimate import Estimator, Risk
from planner.engine.booking.problem import build_problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job, Timetable
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.network import Network, Station
from planner.engine.units import DAY
from tests.engine.booking.build import FULL, USUAL, at, network, request, site, technician


def week(late: int) -> Network:
    """Three days of one desk; each closes at ``late`` (minutes past midnight)."""
    spans = [(at(9, day=day), day * DAY + late) for day in range(3)]
    return network(
        (site("hall", *spans),),
        (Station("desk", "hall"),),
        (technician("anna", *(("hall", *span) for span in spans)),),
        tuple(request(f"r{k}", "full", "hall") for k in range(60)),
        profiles=(FULL,),
        policy=USUAL,
        days=3,
    )


def drafted(given: Network) -> tuple[Draft, Packer]:
    problem = build_problem(given, {"full": 17})
    options = build_options(problem)
    place = np.full(60, -1, dtype=np.int64)
    draft = Draft(problem, options, place, [Timetable(day.index) for day in problem.sitedays])
    packer = Packer(problem, draw_pool(given, draws=256, seed=1), 0.0, 1)
    for g, siteday in enumerate(problem.sitedays):
        jobs = tuple(Job(r, 0, 17) for r in range(20 * g, 20 * g + 20))
        draft.set_day(replace(packer.pack(siteday, Demand(jobs)), left=()))
    return draft, packer


def by_thing(risks: list[Risk]) -> list[tuple[object, ...]]:
    return sorted((r.siteday, r.kind, r.thing, r.risk, r.placed) for r in risks)


def test_a_changed_date_is_run_again_and_the_others_stay() -> None:
    given = week(at(17))
    draft, packer = drafted(given)
    pool = draw_pool(given, draws=512, seed=9)
    kept = Estimator(draft, pool)
    first = kept.risks()
    assert by_thing(first) == by_thing(Estimator(draft, pool).risks())
    fewer = Demand(tuple(Job(r, 0, 17) for r in range(20, 26)))
    draft.set_day(replace(packer.pack(draft.problem.sitedays[1], fewer), left=()))
    again = kept.risks()
    assert by_thing(again) == by_thing(Estimator(draft, pool).risks())
    assert len(again) < len(first)


def test_lateness_past_midnight_reaches_the_next_date() -> None:
    """The shift ends at midnight: sessions that run over it are carried on, kept or not."""
    given = week(DAY)
    draft, _ = drafted(given)
    pool = draw_pool(given, draws=512, seed=9)
    kept = Estimator(draft, pool)
    assert by_thing(kept.risks()) == by_thing(kept.risks())


def test_a_network_with_neither_stations_nor_technicians_has_no_risks() -> None:
    given = network((site("hall", (at(9), at(17))),), (), (), (), profiles=(FULL,), policy=USUAL)
    problem = build_problem(given, {"full": 17})
    none = np.zeros(0, dtype=np.int64)
    draft = Draft(problem, build_options(problem), none, [Timetable(0)])
    assert Estimator(draft, draw_pool(given, draws=64, seed=1)).risks() == []
