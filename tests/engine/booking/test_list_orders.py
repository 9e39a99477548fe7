"""What the list schedule chooses between: kinds of jobs, their worth, arithmetic on draws."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from planner.engine.booking.problem import build_problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Demand, Job, Timetable
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.booking.timetable.trials import sort_kinds
from planner.engine.booking.timetable.vectors import finish, finish_drawn, over, over_pair
from planner.engine.network import Network, Station, Window
from tests.engine.booking.build import (
    at,
    certain_profile,
    network,
    request,
    site,
    technician,
)

HOUR = (at(9), at(10))
ROOM = 6
"""Sessions of ten minutes that the hour holds."""


def an_hour(asked: int, available: tuple[Window, ...] = ()) -> Network:
    """One desk, one hour, sessions of ten minutes sharp."""
    return network(
        (site("desk", HOUR),),
        (Station("d0", "desk"),),
        (technician("anna", ("desk", *HOUR)),),
        tuple(request(f"r{k:02}", "m10", "desk", available=available) for k in range(asked)),
        profiles=(certain_profile(10),),
    )


def packer_of(given: Network) -> Packer:
    """A packer where sessions take what their profile says."""
    return Packer(build_problem(given, {"m10": 10}), draw_pool(given, draws=64, seed=1), 0.5, 1)


def packed(packer: Packer, worth: list[float], trials: int) -> Timetable:
    """Everybody offered to the hour, each worth something."""
    jobs = tuple(Job(r, 0, 10) for r in range(len(worth)))
    siteday = packer.problem.sitedays[0]
    return packer.pack(siteday, Demand(jobs), trials=trials, seed=7, worth=worth)


@pytest.mark.parametrize("seed", range(8))
def test_those_of_most_worth_stay_where_not_all_have_room(seed: int) -> None:
    worth = np.random.default_rng(seed).permutation(np.arange(1.0, 21.0)).tolist()
    found = packed(packer_of(an_hour(20)), worth, trials=2)
    assert sorted(worth[slot.job.request] for slot in found.slots) == [15, 16, 17, 18, 19, 20]


def test_one_order_alone_goes_by_urgency_and_not_by_worth() -> None:
    found = packed(packer_of(an_hour(20)), [float(k) for k in range(20)], trials=1)
    assert sorted(slot.job.request for slot in found.slots) == list(range(ROOM))


def test_more_orders_never_hold_less_worth() -> None:
    rng = np.random.default_rng(3)
    given = an_hour(20, (Window(at(9), at(9, 35)),))
    for _ in range(10):
        worth = rng.uniform(1, 9, 20).tolist()
        held = [
            sum(worth[slot.job.request] for slot in packed(packer_of(given), worth, n).slots)
            for n in (1, 2, 4, 16)
        ]
        assert held == sorted(held)


def test_a_day_asked_again_with_one_more_is_the_day_asked_whole() -> None:
    packer = packer_of(an_hour(ROOM, (Window(at(9), at(10)),)))
    siteday, asking = packer.problem.sitedays[0], packer.asking
    jobs = tuple(Job(r, 0, 10) for r in range(ROOM))
    most = asking.ask(siteday, Demand(jobs[:-1]))
    for without, kept in ((None, jobs), (2, jobs[:2] + jobs[3:]), (0, jobs[1:])):
        one = asking.with_one(most, jobs[-1], without)
        whole = asking.ask(siteday, Demand(kept))
        assert one.jobs == whole.jobs
        assert (one.table[:, [0, 1, 2, 3, 6]] == whole.table[:, [0, 1, 2, 3, 6]]).all()
        assert (one.keys == whole.keys).all()
        for mine, other in zip(one.table, whole.table, strict=True):
            spans = (one.windows[mine[4] : mine[5]], whole.windows[other[4] : other[5]])
            assert (spans[0] == spans[1]).all()
        assert packer.pack_whole(one, trials=1, seed=1) == packer.pack_whole(
            whole, trials=1, seed=1
        )


def test_a_day_that_holds_all_but_one_is_not_whole() -> None:
    packer = packer_of(an_hour(ROOM + 1))
    jobs = tuple(Job(r, 0, 10) for r in range(ROOM + 1))
    siteday = packer.problem.sitedays[0]
    assert packer.pack_whole(packer.asking.ask(siteday, Demand(jobs[1:])), trials=4, seed=1)
    assert packer.pack_whole(packer.asking.ask(siteday, Demand(jobs)), trials=4, seed=1) is None


def test_kinds_are_told_apart_by_all_that_is_asked_but_the_profile() -> None:
    windows = np.array([(0, 9), (20, 30), (0, 9), (20, 30), (0, 9), (0, 8)], dtype=np.int32)
    table = np.array(
        [  # minutes, profile, feature, skill, first window, last + 1, reserve
            (10, 0, 0, 0, 0, 2, 0),
            (10, 1, 0, 0, 2, 4, 0),
            (11, 0, 0, 0, 2, 4, 0),
            (10, 0, 1, 0, 2, 4, 0),
            (10, 0, 0, 1, 2, 4, 0),
            (10, 0, 0, 0, 2, 4, 1),
            (10, 0, 0, 0, 4, 5, 0),
            (10, 0, 0, 0, 5, 6, 0),
        ],
        dtype=np.int32,
    )
    kind = np.empty(len(table), dtype=np.int32)
    kinds = sort_kinds(table, windows, kind)
    assert kind.tolist() == [0, 0, 1, 2, 3, 4, 5, 6]
    assert kinds.tolist() == [
        [row[0], *row[2:]] for row in (table[k].tolist() for k in (0, 2, 3, 4, 5, 6, 7))
    ]


@pytest.mark.parametrize("turn", [0, 1, 63, 127])
def test_ends_on_draws_are_what_numpy_makes_of_them(turn: int) -> None:
    rng = np.random.default_rng(turn)
    a, b, drawn = (rng.uniform(0, 500, 128).astype(np.float32) for _ in range(3))
    ends: NDArray[np.float32] = np.empty(128, dtype=np.float32)
    finish_drawn(a, b, 250, drawn, turn, ends)
    wanted = np.maximum(np.maximum(a, b), np.float32(250)) + np.roll(drawn, -turn)
    assert (ends == wanted).all()
    finish(a, b, 250, 17, ends)
    assert (ends == np.maximum(np.maximum(a, b), np.float32(250)) + np.float32(17)).all()
    limit = int(a[5])
    assert over(a, limit) == int((a > limit).sum())
    assert over_pair(a, b, limit) == int(((a > limit) | (b > limit)).sum())
