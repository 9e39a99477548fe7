"""Parts of the search by hand: how it cools, what guides it, how it comes back and tries places."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import numpy as np
import pytest

from planner.engine.booking.allocate.options import build_options
from planner.engine.booking.budget import Budget
from planner.engine.booking.cooling import FIRST_SHARE, ROUNDS, SWEEPS, Cooling
from planner.engine.booking.draft import Draft
from planner.engine.booking.guide import guide
from planner.engine.booking.moves import Mover
from planner.engine.booking.problem import build_problem
from planner.engine.booking.timetable.day import Packer
from planner.engine.booking.timetable.demand import Timetable
from planner.engine.booking.timetable.pool import draw_pool
from planner.engine.network import Station
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.sessions.planned import planned_minutes
from tests.engine.booking.build import at, certain_profile, network, request, site, technician

UNTIL = 0.6


class Paid(Budget):
    """A budget that is spent by hand."""

    def __init__(self) -> None:
        self.part = 0.0

    def spent(self) -> float:
        return self.part


def cooled(step: float) -> list[tuple[int, float]]:
    """Round and share before every sweep, where each takes ``step`` of the budget."""
    budget = Paid()
    cooling = Cooling(budget, UNTIL)
    seen = []
    while budget.part < UNTIL:
        cooling.turns()
        seen.append((cooling.number, cooling.share()))
        budget.part += step
        cooling.swept()
    return seen


def test_a_search_that_has_time_for_one_round_cools_once() -> None:
    seen = cooled(UNTIL / SWEEPS)
    shares = [share for _, share in seen]
    assert {number for number, _ in seen} == {0}
    assert shares[0] == FIRST_SHARE
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] == 0


def test_a_search_that_has_time_cools_in_rounds() -> None:
    seen = cooled(UNTIL / SWEEPS / 3.01)
    assert [number for number, _ in seen] == sorted(number for number, _ in seen)
    assert {number for number, _ in seen} == {0, 1, 2}
    for number in (1, 2):
        shares = [share for mine, share in seen if mine == number]
        assert FIRST_SHARE >= shares[0] > 0.8 * FIRST_SHARE
        assert shares == sorted(shares, reverse=True)
    assert cooled(UNTIL / 10_000)[-1][0] == ROUNDS - 1


def test_a_round_that_stands_still_gives_way_to_the_next_but_the_last_does_not() -> None:
    budget = Paid()
    cooling = Cooling(budget, UNTIL)
    for _ in range(2):
        budget.part += UNTIL / SWEEPS / 2
        cooling.swept()
    assert cooling.rounds == 2
    assert cooling.skip()
    assert cooling.turns()
    assert cooling.share() == FIRST_SHARE
    assert not cooling.turns()
    assert not cooling.skip()


def test_a_guide_from_one_before_is_the_guide_made_from_nothing() -> None:
    given = generate(SIZES["S"], seed=5)
    lengths = {item.id: planned_minutes(item, given.policy, given.grain) for item in given.profiles}
    options = build_options(build_problem(given, lengths))
    reduced = options.cost + np.random.default_rng(1).uniform(0, 20, len(options.cost))
    before = guide(options, reduced, 0.6)
    kept = before.order.copy()
    for share in (0.4, 0.1, 0.0):
        again, anew = (
            guide(options, reduced, share, before),
            guide(options, reduced, share),
        )
        assert (again.value == anew.value).all()
        assert (again.away == anew.away).all()
        assert (again.value[again.order] == anew.value[anew.order]).all()
        for low, high in pairwise(options.first.tolist()):
            assert sorted(again.order[low:high].tolist()) == list(range(low, high))
    assert (before.order == kept).all()


def three_days() -> Mover:
    """An hour on each of three days, ten minutes a session, eight who ask; nobody placed."""
    spans = [(at(9, day=day), at(10, day=day)) for day in range(3)]
    given = network(
        (site("desk", *spans),),
        (Station("d0", "desk"),),
        (technician("anna", *(("desk", *span) for span in spans)),),
        tuple(request(f"r{k}", "m10", "desk", due=2) for k in range(8)),
        profiles=(certain_profile(10),),
        days=3,
    )
    problem = build_problem(given, {"m10": 10})
    options = build_options(problem)
    none = np.full(8, -1, dtype=np.int64)
    draft = Draft(problem, options, none, [Timetable(day.index) for day in problem.sitedays])
    packer = Packer(problem, draw_pool(given, draws=64, seed=1), 0.5, 1)
    return Mover(draft, packer, 1, guide(options, options.cost, 0.0))


def fill(mover: Mover, g: int, requests: range) -> None:
    options = mover.draft.options
    for r in requests:
        mine = range(int(options.first[r]), int(options.first[r + 1]))
        option = next(o for o in mine if options.siteday[o] == g)
        found = mover.fits(option)
        assert found is not None
        mover.put(option, found)


def test_a_draft_that_comes_back_is_the_one_that_was_saved() -> None:
    mover = three_days()
    draft = mover.draft
    fill(mover, 0, range(3))
    saved = draft.save()
    days, version, cost = list(draft.days), draft.version.copy(), draft.cost()
    fill(mover, 1, range(3, 5))
    mover.take(0)
    changed = draft.version.copy()
    draft.restore(saved)
    assert draft.days == days
    assert (draft.version == version).all()
    assert draft.cost() == cost
    fill(mover, 1, range(5, 7))
    mover.take(1)
    assert not set(draft.version[:2].tolist()) & set(changed[:2].tolist())


@pytest.mark.parametrize("threads", [2, 3])
def test_places_tried_side_by_side_are_those_tried_one_by_one(threads: int) -> None:
    alone, together = three_days(), three_days()
    with ThreadPoolExecutor(threads - 1) as hands:
        together.hands, together.threads = hands, threads
        for mover in (alone, together):
            fill(mover, 0, range(6))
            options = mover.draft.options
            wanted = list(range(int(options.first[6]), int(options.first[7])))
            found = mover.first_that_fits(wanted)
            assert found is not None
            assert options.siteday[found[0]] == 1
            mover.put(*found)
    assert alone.spent == together.spent
    assert alone.draft.days == together.draft.days


def test_what_did_not_fit_is_tried_again_only_when_asked() -> None:
    mover = three_days()
    fill(mover, 0, range(6))
    options = mover.draft.options
    option = next(
        o for o in range(int(options.first[6]), int(options.first[7])) if not options.siteday[o]
    )
    mover._room[0] += 10  # as if ten minutes more were free than can be used
    mover._idle.clear()
    before = mover.spent
    assert mover.fits(option) is None
    first = mover.spent
    assert first > before
    assert mover.fits(option) is None
    assert mover.spent == first
    mover.forget()
    assert mover.fits(option) is None
    assert mover.spent > first
