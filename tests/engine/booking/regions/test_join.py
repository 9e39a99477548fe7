"""Plans of regions add up to a sound plan of the whole.

The judge is `verify` on the whole network; the oracle for cost and bound is
`tests.engine.monolith`, a model of the whole network that shares no code with the planner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from planner.engine.booking import Interrupted, Options, plan
from planner.engine.booking.allocate.ascent import ascend
from planner.engine.booking.bounds.program import program_of
from planner.engine.booking.draft import fixed_cost
from planner.engine.booking.regions import join, plan_regions, split
from planner.engine.errors import Fault, NetworkImpossible, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from planner.engine.sessions.planned import planned_minutes
from planner.engine.verify import verify
from tests.engine.booking.build import Listener
from tests.engine.booking.contested import contested
from tests.engine.booking.networks import certain, random_network
from tests.engine.booking.regions.build import beside
from tests.engine.booking.test_any_network import fewer
from tests.engine.monolith import solve_monolith

SETTINGS = settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
SEEDS = st.lists(st.integers(0, 2000), min_size=2, max_size=3)


def without_fixed(network: Network) -> Network:
    """The network without what most often makes a random one impossible."""
    movable = tuple(item for item in network.appointments if not item.fixed)
    return replace(network, appointments=movable, care=network.care[:1])


def crowded_and_quiet() -> Network:
    """One region that asks for far more than it holds beside one with room to spare."""
    crowded = generate(Size(260, 2, 2), seed=3, load=1.5)
    quiet = replace(generate(Size(200, 1, 2), seed=4, load=0.8), policy=crowded.policy)
    return beside(crowded, replace(quiet, requests=quiet.requests[:60], appointments=()))


def tried(
    planner: Callable[[Network, Options], Plan], whole: Network, options: Options
) -> Plan | tuple[Fault, ...]:
    """A plan, or what makes it impossible."""
    try:
        return planner(whole, options)
    except NetworkImpossible as error:
        return error.faults


@given(seeds=SEEDS, seed=st.integers(0, 3))
@SETTINGS
def test_regions_joined_are_a_sound_plan_or_impossible_as_the_whole_is(
    seeds: list[int], seed: int
) -> None:
    whole = beside(*(without_fixed(random_network(each)) for each in seeds))
    assume(len(split(whole)) > 1)
    options = Options(effort=2, seed=seed)
    found = tried(partial(plan_regions, least=1), whole, options)
    if not isinstance(found, Plan):
        assert found
        direct = tried(plan, whole, options)
        assert not isinstance(direct, Plan)
        assert set(found) <= set(direct)
        return
    assert verify(whole, found, draws=2000, seed=seed + 77, care_may_be_unplaced=False) == ()


@given(seeds=SEEDS)
@SETTINGS
def test_the_bounds_of_regions_add_up_to_a_bound_of_the_whole(seeds: list[int]) -> None:
    parts = [fewer(certain(without_fixed(random_network(each))), 4) for each in seeds]
    whole = certain(beside(*parts))
    assume(len(split(whole)) > 1)
    lengths = {item.id: planned_minutes(item, whole.policy, whole.grain) for item in whole.profiles}
    best = solve_monolith(whole, lengths, effort=10.0)
    assume(best is not None)
    assert best is not None
    found = plan_regions(whole, Options(effort=2), least=1)
    assert found.objective >= best.bound - 1e-6
    assert found.bound <= best.cost + 1e-6


def test_cost_and_bound_are_sums_and_ids_stay() -> None:
    whole = beside(contested(3, 30, hours=3), contested(4, 30, hours=3))
    regions = split(whole)
    plans = [plan(region, Options(effort=2)) for region in regions]
    found = join(whole, regions, plans, seed=0)
    assert found.objective == pytest.approx(sum(each.objective for each in plans))
    assert found.bound == pytest.approx(sum(each.bound for each in plans), rel=1e-6)
    booked = {item.request: item for each in plans for item in each.bookings}
    assert {item.request: item for item in found.bookings} == booked


def test_the_shortest_lengths_are_stated_and_the_bound_holds_for_them() -> None:
    """A quiet region plans long sessions, a crowded one short ones; one plan states one table."""
    whole = crowded_and_quiet()
    regions = split(whole)
    assert len(regions) == 2
    plans = [plan(region, Options(effort=2)) for region in regions]
    assert plans[0].lengths != plans[1].lengths
    found = join(whole, regions, plans, seed=0)
    assert found.lengths == {
        name: min(each.lengths[name] for each in plans) for name in plans[0].lengths
    }
    assert found.bound <= sum(each.bound for each in plans) + 1e-6
    # the program of the whole knows nothing of regions: its bound is the same, solver apart
    program = program_of(whole, found, strong=False)
    direct = ascend(program.options, program.capacity).bound + fixed_cost(program.problem)
    assert found.bound == pytest.approx(direct, rel=0.01)
    assert verify(whole, found, draws=4000, seed=9, care_may_be_unplaced=False) == ()


def test_plans_of_other_regions_are_not_joined() -> None:
    whole = beside(contested(3, 20, hours=3), contested(4, 20, hours=3))
    regions = split(whole)
    plans = [plan(region, Options(effort=1)) for region in regions]
    with pytest.raises(PlanUnsound, match="rule 1"):
        join(whole, regions, [plans[0], plans[0]], seed=0)


def test_processes_change_only_the_time() -> None:
    whole = beside(*(contested(seed, 25, hours=3) for seed in (3, 4, 5)))
    alone = plan_regions(whole, Options(effort=6, seed=4), least=1)
    apart = plan_regions(whole, Options(effort=6, seed=4, workers=2), least=1)
    assert replace(apart, seconds={}) == replace(alone, seconds={})


def test_a_network_that_hangs_together_is_planned_whole() -> None:
    whole = contested(3, 30, hours=3)
    found = plan_regions(whole, Options(effort=2))
    assert replace(found, seconds={}) == replace(plan(whole, Options(effort=2)), seconds={})


@pytest.mark.parametrize("workers", [1, 2])
def test_the_watch_hears_one_run(workers: int) -> None:
    whole = beside(*(contested(seed, 25, hours=3) for seed in (3, 4)))
    listener = Listener("nothing")
    found = plan_regions(whole, Options(effort=2, workers=workers), listener, least=1)
    last = listener.heard[-1]
    assert (last.stage, last.detail) == ("join", "2 of 2 regions planned")
    assert last.cost == pytest.approx(found.objective, abs=1e-4)
    assert last.booked == len(found.bookings)
    assert {item.detail for item in listener.heard} == {
        f"{n} of 2 regions planned" for n in (0, 1, 2)
    }


@pytest.mark.parametrize("workers", [1, 2])
def test_a_run_told_to_end_before_every_region_has_a_plan_has_none(workers: int) -> None:
    whole = beside(*(contested(seed, 25, hours=3) for seed in (3, 4)))
    with pytest.raises(Interrupted):
        plan_regions(whole, Options(effort=50, workers=workers), Listener("lengths"), least=1)


def crowded_care(seed: int) -> Network | None:
    """A random network whose care alone makes it impossible, if it is one."""
    part = replace(random_network(seed), appointments=())
    return None if isinstance(tried(plan, part, Options(effort=1)), Plan) else part


@pytest.mark.parametrize("workers", [1, 2])
def test_what_makes_a_region_impossible_has_its_place_in_the_whole(workers: int) -> None:
    part = next(part for part in map(crowded_care, range(200)) if part is not None)
    fine = contested(3, 20, hours=3)
    whole = beside(replace(fine, days=max(fine.days, part.days)), part)
    with pytest.raises(NetworkImpossible) as refusal:
        plan_regions(whole, Options(effort=1, workers=workers), least=1)
    for fault in refusal.value.faults:
        number = int(fault.path.removeprefix("care[").removesuffix("]"))
        assert f"care {whole.care[number].id} " in fault.problem
