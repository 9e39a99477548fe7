"""A run by regions on several workers: the same plan as on one, whoever comes, helps or is lost."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connections
from pytest_django import Settings

from planner.engine.booking import Options
from planner.engine.booking.regions import plan_regions, split
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from planner.engine.verify import verify
from planner.gateway.record import store
from planner.gateway.runs import ask, execute, result
from planner.gateway.runs.parts import help_with
from sites.models import PlanRun, RunPart, RunState
from sites.services.parts import part_claim
from sites.services.runs import run_cancel

SPREAD = Size(requests=500, sites=4, days=2, regions=2)
"""Two regions of 250 requests: each is worth a run of its own."""
GONE = timedelta(minutes=-1)


def never() -> bool:
    """Nothing ends this worker."""
    return False


@pytest.fixture
def run(transactional_db: None, settings: Settings) -> int:
    """A run over a record of two regions, with two workers in all."""
    settings.RUN_WORKERS, settings.RUN_PROCESSES = 2, 1
    network = generate(SPREAD, seed=2)
    assert len(split(network, least=200)) == 2
    store(network)
    return ask(first_day=network.first_day, days=network.days, effort=1).pk


def assert_planned(run: int) -> None:
    """Ready, by the judge, and the plan that one worker alone would have made."""
    row = PlanRun.objects.get(pk=run)
    assert (row.state, row.error) == (RunState.READY, "")
    made = result(run)
    assert verify(made.network, made.plan, draws=2000, seed=9, care_may_be_unplaced=False) == ()
    alone = plan_regions(made.network, Options(effort=1))
    assert made.plan.bookings == alone.bookings
    assert made.plan.objective == pytest.approx(alone.objective)
    assert not RunPart.objects.exists()


def beside(work: Callable[[], object]) -> threading.Thread:
    """Do something in a thread with connections of its own."""

    def do() -> None:
        try:
            work()
        finally:
            connections.close_all()

    thread = threading.Thread(target=do)
    thread.start()
    return thread


def test_two_workers_make_the_plan_that_one_would_have_made(run: int) -> None:
    called: list[int] = []
    threads: list[threading.Thread] = []

    def call(count: int) -> None:
        called.append(count)
        threads.append(beside(lambda: help_with(run, "two", never)))
        while not RunPart.objects.filter(worker="two").exists():
            threading.Event().wait(0.02)

    execute(run, worker="one", call=call)
    for thread in threads:
        thread.join()
    assert called == [1]
    assert_planned(run)


def test_a_run_goes_on_where_nobody_comes(run: int) -> None:
    execute(run, worker="one")
    assert_planned(run)


def test_a_part_of_a_worker_that_is_lost_is_planned_by_another(run: int) -> None:
    def call(_: int) -> None:
        assert part_claim(run=run, worker="gone", lease=GONE) is not None

    execute(run, worker="one", call=call)
    assert_planned(run)


def test_a_part_that_is_lost_again_and_again_ends_the_run_in_words(
    run: int, settings: Settings
) -> None:
    settings.RUN_MOST_LOST = 1

    def call(_: int) -> None:
        assert part_claim(run=run, worker="gone", lease=GONE) is not None

    execute(run, worker="one", call=call)
    row = PlanRun.objects.get(pk=run)
    assert row.state == RunState.FAILED
    assert f"a part of run {run}: was lost 1 times" in row.error


def test_cancelled_before_every_region_has_a_plan_it_stops(run: int) -> None:
    execute(run, worker="one", call=lambda _: run_cancel(run=run))
    row = PlanRun.objects.get(pk=run)
    assert row.state in {RunState.STOPPED, RunState.READY}
    assert row.cancel_asked_at is not None
    assert not RunPart.objects.exists()
