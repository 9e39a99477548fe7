"""The list schedule on site-days by hand: what comes out keeps every rule of the day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.engine.booking.breaks import latest_free, least_overlap
from planner.engine.booking.problem import build_problem
from planner.engine.booking.siteday import Block
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job, Timetable
from planner.engine.booking.timetable.hard import pack_hard
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.network import Closure, Network, Policy, Reserve, Shift, Station, Window
from planner.engine.plan import Booking, Break, Plan
from planner.engine.sessions.planned import planned_minutes
from planner.engine.sessions.waits import Outcome, assess, breaks_promise
from planner.engine.units import told
from planner.engine.verify import verify_undrawn
from tests.engine.booking.build import (
    COST,
    FULL,
    USUAL,
    at,
    certain_profile,
    network,
    request,
    rested,
    site,
    technician,
)

SIGNS = ("signing",)


def hall(policy: Policy = USUAL, reserve: int = 0) -> Network:
    """Three desks, three technicians with breaks, 70 requests of a usual and a certain profile."""
    wanted = [
        request(
            f"r{k:02}",
            "full" if k % 3 else "m20",
            "hall",
            features=("lift",) if k % 7 == 0 else (),
            skills=SIGNS if k % 11 == 0 else (),
            available=(Window(at(9), at(12)), Window(at(15), at(17))) if k % 5 == 0 else (),
            rework=k % 4 == 0,
        )
        for k in range(70)
    ]
    return network(
        (site("hall", (at(9), at(13)), (at(13), at(17))),),
        (
            Station("d0", "hall", ("lift",)),
            Station("d1", "hall", (), (Closure(at(10), at(10, 45), "calibration"),)),
            Station("d2", "hall", (), (Closure(at(8), at(9, 30), "warm-up"),)),
        ),
        (
            technician("anna", rested("hall", at(9), at(17), 30, (at(12), at(14))), skills=SIGNS),
            technician("ben", rested("hall", at(9), at(15), 15)),
            technician("cleo", rested("hall", at(11), at(17), 30, (at(13), at(13, 30)))),
        ),
        tuple(wanted),
        profiles=(FULL, certain_profile(20)),
        policy=policy,
        reserve=(Reserve("hall", 0, reserve),) if reserve else (),
    )


def packed(given: Network, *, trials: int = 0, effort: float = 0.0) -> tuple[Packer, Timetable]:
    """Everything asked of the first site-day, packed."""
    lengths = {item.id: planned_minutes(item, given.policy, given.grain) for item in given.profiles}
    problem = build_problem(given, lengths)
    packer = Packer(problem, draw_pool(given, draws=1024, seed=1), 0.5, 1)
    names = list(lengths)
    jobs = tuple(
        Job(r, names.index(item.profile), lengths[item.profile])
        for r, item in enumerate(given.requests)
    )
    worth = tuple(1.0 for _ in jobs)
    return packer, pack_hard(packer, 0, Demand(jobs), worth, seed=1, trials=trials, effort=effort)


def as_plan(packer: Packer, found: Timetable) -> Plan:
    """A timetable of the first site-day as bookings and breaks."""
    given, siteday = packer.problem.network, packer.problem.sitedays[0]
    bookings = tuple(
        Booking(
            given.requests[slot.job.request].id,
            given.sites[siteday.site].id,
            given.stations[siteday.stations[slot.station]].id,
            given.technicians[siteday.workers[slot.worker].technician].id,
            slot.start,
            told(slot.start, given.grain),
            slot.job.minutes,
            0.0,
        )
        for slot in found.slots
    )
    rests = tuple(
        Break(given.technicians[worker.technician].id, start, worker.break_minutes)
        for worker, start in zip(siteday.workers, found.rests, strict=True)
        if start >= 0
    )
    lengths = {p.id: int(m) for p, m in zip(given.profiles, packer.problem.lengths, strict=True)}
    return Plan(bookings, (), (), rests, (), (), lengths, 0.0, 0.0, None)


def judged(packer: Packer, found: Timetable) -> Outcome:
    """The risks of a timetable on fresh draws."""
    made, given = as_plan(packer, found), packer.problem.network
    return assess(given, made.bookings, (), made.breaks, draws_n=20_000, seed=99, purpose="apart")


@pytest.mark.parametrize("trials", [0, 4])
@pytest.mark.parametrize("reserve", [0, 900])
def test_a_packed_day_keeps_rules_2_to_8(trials: int, reserve: int) -> None:
    """Judged by the independent checks; rule 1 alone is not asked: the rest stays unplaced."""
    packer, found = packed(hall(reserve=reserve), trials=trials)
    assert found.sound
    assert len(found.slots) + len(found.left) == 70
    breaches = verify_undrawn(packer.problem.network, as_plan(packer, found))
    own = {request.id for request in packer.problem.network.requests}
    left = {packer.problem.network.requests[job.request].id for job in found.left}
    rules = [b for b in breaches if b.rule != 10 and not (b.rule == 1 and set(b.things) <= left)]
    assert rules == []
    assert left < own


@pytest.mark.parametrize(
    "policy",
    [
        USUAL,
        Policy(5, 0.05, 0, 0.2, COST),
        Policy(30, 0.3, 5, 0.01, COST),
        Policy(0, 0.5, 60, 1.0, COST),
    ],
)
def test_a_packed_day_keeps_its_promises_on_fresh_draws(policy: Policy) -> None:
    packer, found = packed(hall(policy))
    outcome = judged(packer, found)
    assert len(outcome.p_wait) == len(found.slots) > 20
    for risk in outcome.p_wait.values():
        assert not breaks_promise(risk, policy.wait_risk, 20_000)
    ends = [*outcome.station_overtime.values(), *outcome.shift_overtime.values()]
    for risk in ends:
        assert not breaks_promise(risk, policy.overtime_risk, 20_000)


def test_stations_and_technicians_are_hardly_idle_when_too_much_is_asked() -> None:
    """At least 85 % of the technicians' minutes less breaks; 70 requests ask for more."""
    _, found = packed(hall())
    planned = sum(slot.job.minutes for slot in found.slots)
    assert planned >= 0.85 * (480 - 30 + 360 - 15 + 360 - 30)


def test_the_exact_model_places_what_the_list_leaves() -> None:
    """Two technicians, an hour each, and exactly two hours of sessions: all fit, in one way.

    Ben alone signs and must take the three that ask for it, the middle one at 9:20 to the minute.
    """
    given = network(
        (site("hall", (at(9), at(10))),),
        (Station("d0", "hall", ("lift",)), Station("d1", "hall"), Station("d2", "hall")),
        (
            technician("anna", ("hall", at(9), at(10))),
            technician("ben", ("hall", at(9), at(10)), skills=SIGNS),
        ),
        (
            request("a", "m30", "hall", features=("lift",)),
            request("b", "m20", "hall", skills=SIGNS, available=(Window(at(9, 20), at(9, 40)),)),
            request("c", "m20", "hall", skills=SIGNS),
            request("d", "m30", "hall"),
            request("e", "m20", "hall", skills=SIGNS, features=("lift",)),
        ),
        profiles=(certain_profile(20), certain_profile(30)),
        policy=Policy(4, 0.0, 0, 0.0, COST),
    )
    _, found = packed(given, trials=8, effort=20.0)
    assert found.left == ()
    by_name = {given.requests[s.job.request].id: s for s in found.slots}
    assert by_name["b"].start == at(9, 20)


def test_pinned_blocks_stay_and_those_that_collide_are_given_up() -> None:
    given = hall()
    lengths = {p.id: planned_minutes(p, given.policy, given.grain) for p in given.profiles}
    packer = Packer(build_problem(given, lengths), draw_pool(given, draws=256, seed=1), 0.5, 1)
    stays = Block(at(9, 30), 18, 0, 0, 0, 1)
    collides = Block(at(9, 40), 18, 0, 1, 0, 2)
    jobs = tuple(Job(r, 0, 18) for r in (4, 5, 7, 8, 10))
    found = packer.pack(packer.problem.sitedays[0], Demand(jobs, (stays, collides)))
    assert found.pinned == (stays,)
    assert found.unpinned == (collides,)
    for slot in found.slots:
        apart = slot.start + slot.job.minutes <= stays.start or slot.start >= stays.start + 18
        assert apart or (slot.station != 0 and slot.worker != 0)


def test_the_least_overlap_of_a_break_is_the_least_over_all_starts() -> None:
    """Against trying every minute (derived)."""
    rng = np.random.default_rng(5)
    for _ in range(300):
        low = int(rng.integers(0, 50))
        minutes = int(rng.integers(1, 30))
        high = low + minutes + int(rng.integers(0, 60))
        edges = np.sort(rng.choice(150, 6, replace=False)).tolist()
        region = [(edges[0], edges[1]), (edges[2], edges[3]), (edges[4], edges[5])]
        inside = {k for a, b in region for k in range(a, b)}
        every = range(low, high - minutes + 1)
        least = min(len(inside & set(range(s, s + minutes))) for s in every)
        shift = Shift("hall", low, high, minutes, low, high)
        assert least_overlap(shift, region) == least
        free = [s for s in every if not inside & set(range(s, s + minutes))]
        assert latest_free(shift, region) == (max(free) if free else None)


def test_a_pool_s_vectors_are_the_same_quantiles_in_another_order() -> None:
    """Latin hypercube: every vector holds the evenly spread quantiles once, so means agree."""
    given = replace(hall(), requests=())
    pool = draw_pool(given, draws=512, seed=7)
    assert pool.shape[0] == 2
    ordered = np.sort(pool, axis=2)
    assert (ordered == ordered[:, :1]).all()
    assert (pool[1] == 20.0).all()
    assert float((pool[0] == 0).mean()) == pytest.approx(0.08, abs=1 / 512)
