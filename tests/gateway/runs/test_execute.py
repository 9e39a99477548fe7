"""A run from asking to its end, in this process: planned, cancelled, given back, given up."""

from __future__ import annotations

import threading
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.db import connections
from django_tasks_db.models import DBTaskResult
from pytest_django import Settings

from planner.engine.verify import Breach, verify
from planner.gateway.record import read
from planner.gateway.runs import ask, execute, result, sweep
from sites.errors import BadValue, NotReady
from sites.models import Appointment, PlanResult, PlanRun, ProgrammeVersion, RunState
from sites.services.runs import run_cancel, run_claim, run_requeue_lapsed
from tests.sites.build import DAY, World

MOST = 3
MINUTE = timedelta(minutes=1)
CROWD = 120  # two stations hold about 90


def wanted(here: World, count: int = 6, **values: object) -> PlanRun:
    """Requests ``r-0`` …, and a run that is asked for them."""
    for number in range(count):
        here.request(f"r-{number}")
    return ask(**{"first_day": DAY, "days": 1, "effort": 1, "by": here.desk, **values})  # type: ignore[arg-type]


def sound(run: int) -> tuple[Breach, ...]:
    """The rules that a run's plan breaks, by the judge."""
    made = result(run)
    return verify(made.network, made.plan, draws=2000, seed=9, care_may_be_unplaced=False)


def when(run: int, ready: Callable[[PlanRun], bool], act: Callable[[], object]) -> threading.Thread:
    """Do something in another thread as soon as the run's row is so."""

    def look() -> None:
        try:
            while not ready(PlanRun.objects.get(pk=run)):
                threading.Event().wait(0.02)
            act()
        finally:
            connections.close_all()

    thread = threading.Thread(target=look)
    thread.start()
    return thread


def test_a_run_that_is_asked_for_is_in_the_queue_once(here: World) -> None:
    run = wanted(here)
    task = DBTaskResult.objects.get()
    assert task.args_kwargs == {"args": [run.pk], "kwargs": {}}
    assert task.task_path == "planner.gateway.runs.task.plan_run"
    assert sweep().sent == ()


def test_unknown_sites_are_refused(here: World) -> None:
    with pytest.raises(BadValue, match="site nowhere: is not known"):
        ask(first_day=DAY, days=1, sites=["nowhere"])
    assert not PlanRun.objects.exists()
    assert not DBTaskResult.objects.exists()


def test_a_run_ends_with_a_sound_plan_and_writes_no_appointment(here: World) -> None:
    run = wanted(here)
    execute(run.pk, worker="here")
    run.refresh_from_db()
    assert (run.state, run.worker, run.attempt, run.error) == ("ready", "here", 1, "")
    assert not Appointment.objects.exists()
    made = result(run.pk)
    assert made.network == read(first_day=DAY, days=1)
    assert sound(run.pk) == ()
    assert (run.booked, run.unbooked) == (len(made.plan.bookings), len(made.plan.unbooked))
    assert run.objective == made.plan.objective
    assert run.booked == 6


def test_only_the_requests_and_sites_that_were_named_are_planned(here: World) -> None:
    run = wanted(here, requests=["r-1", "r-3"], sites=[here.site.code])
    execute(run.pk)
    network = result(run.pk).network
    assert {row.id for row in network.requests} == {"r-1", "r-3"}
    assert [site.id for site in network.sites] == [here.site.code]


def test_a_run_that_was_taken_is_left_alone(here: World) -> None:
    run = wanted(here)
    run_claim(run=run.pk, worker="other", lease=MINUTE)
    before = PlanRun.objects.values().get()
    execute(run.pk)
    assert PlanRun.objects.values().get() == before


def test_cancelled_in_the_middle_it_keeps_its_best_plan(here: World) -> None:
    """The day is asked for more than it holds, so that the run would use its ten minutes."""
    run = wanted(here, CROWD, effort=None, seconds=600)
    thread = when(
        run.pk,
        lambda row: row.objective is not None,
        lambda: run_cancel(run=run.pk, by=here.desk),
    )
    execute(run.pk)
    thread.join()
    run.refresh_from_db()
    assert (run.state, run.cancel_asked_by) == (RunState.READY, here.desk)
    assert sound(run.pk) == ()
    assert result(run.pk).plan.bookings


def test_a_worker_that_is_ending_gives_its_run_back(here: World) -> None:
    run = wanted(here)
    execute(run.pk, ending=lambda: True)
    run.refresh_from_db()
    assert (run.state, run.attempt, run.lost) == (RunState.WAITING, 1, 0)
    with pytest.raises(NotReady, match="waiting"):
        result(run.pk)
    assert sweep().sent == (run.pk,)
    execute(run.pk)
    run.refresh_from_db()
    assert (run.state, run.attempt) == (RunState.READY, 2)


def test_a_worker_that_was_given_up_ends_without_a_trace(here: World) -> None:
    """Its lease is taken away in the middle, as when it was frozen; another one plans meanwhile."""
    run = wanted(here, CROWD, effort=None, seconds=600)

    def take_over() -> None:
        PlanRun.objects.filter(pk=run.pk).update(lease_until="2020-01-01T00:00:00Z")
        while run_requeue_lapsed(most=MOST) == []:
            PlanRun.objects.filter(pk=run.pk).update(lease_until="2020-01-01T00:00:00Z")
        PlanRun.objects.filter(pk=run.pk).update(seconds=None, effort=1)
        execute(run.pk, worker="second")

    thread = when(run.pk, lambda row: row.objective is not None, take_over)
    execute(run.pk, worker="first")
    thread.join()
    run.refresh_from_db()
    assert (run.state, run.worker, run.attempt, run.lost) == ("ready", "second", 2, 1)
    assert PlanResult.objects.get().attempt == 2


def test_a_record_that_cannot_be_planned_with_fails_the_run_in_words(here: World) -> None:
    run = wanted(here, 0)
    ProgrammeVersion.objects.all().delete()
    execute(run.pk)
    run.refresh_from_db()
    assert run.state == RunState.FAILED
    assert "no programme has parameters yet; add a programme" in run.error


def test_a_lease_that_lapsed_is_swept_and_sent_again(here: World, settings: Settings) -> None:
    settings.RUN_MOST_LOST = 2
    run = wanted(here)
    run_claim(run=run.pk, worker="gone", lease=-MINUTE)
    swept = sweep()
    assert (swept.lapsed, swept.sent) == ((run.pk,), (run.pk,))
    assert DBTaskResult.objects.count() == 2
    run_claim(run=run.pk, worker="gone", lease=-MINUTE)
    assert sweep(lapsed=False).lapsed == ()
    assert sweep() == type(swept)((), ())
    run.refresh_from_db()
    assert run.state == RunState.FAILED
