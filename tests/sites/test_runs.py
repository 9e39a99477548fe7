"""A run's row: one worker has it, who was given up writes no more, and it ends once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from sites.errors import BadValue, ChangedMeanwhile, NotReady
from sites.models import PlanResult, PlanRun, RunState
from sites.selectors.runs import run_result, runs_open, runs_to_send
from sites.services.runs import (
    Kept,
    Standing,
    run_accept,
    run_ask,
    run_cancel,
    run_claim,
    run_end_early,
    run_fail,
    run_finish,
    run_keep,
    run_progress,
    run_put_aside,
    run_release,
    run_requeue_lapsed,
    run_sent,
)
from tests.sites.build import DAY, NOW, World

LEASE, OVER = timedelta(minutes=1), timedelta(minutes=-1)
KEPT = Kept(b"network", b"plan", "n" * 64, "p" * 64, Standing("", 9.0, 8.0, 0.125, 4), 1)
MOST = 3


def asked(here: World) -> int:
    """A run that waits."""
    return run_ask(first_day=DAY, days=1, sites=[here.site], effort=1, by=here.desk).pk


def claimed(here: World, lease: timedelta = LEASE) -> tuple[int, int]:
    """A run that a worker has, and the attempt."""
    run = asked(here)
    attempt = run_claim(run=run, worker="one", lease=lease)
    assert attempt is not None
    return run, attempt


def state(run: int) -> str:
    return PlanRun.objects.get(pk=run).state


def test_a_run_keeps_what_was_asked(here: World) -> None:
    run = run_ask(first_day=DAY, days=3, requests=["b", "a", "b"], seconds=2.5, seed=7)
    run.refresh_from_db()
    assert (run.state, run.requests, run.seconds, run.effort) == ("waiting", ["a", "b"], 2.5, None)
    assert list(run.sites.all()) == []
    assert list(runs_open()) == [run]


@pytest.mark.parametrize(
    "wrong",
    [{"days": 0}, {"days": 1, "seconds": 1.0, "effort": 1}, {"days": 1, "requests": []}],
)
def test_what_makes_no_sense_is_refused_with_a_remedy(here: World, wrong: dict[str, int]) -> None:
    with pytest.raises(BadValue) as caught:
        run_ask(first_day=DAY, **wrong)  # type: ignore[arg-type]
    assert caught.value.remedy
    assert not PlanRun.objects.exists()


def test_only_the_first_worker_gets_a_run(here: World) -> None:
    run = asked(here)
    assert run_claim(run=run, worker="one", lease=LEASE) == 1
    assert run_claim(run=run, worker="two", lease=LEASE) is None
    assert PlanRun.objects.get().worker == "one"


def test_progress_is_kept_and_renews_the_lease(here: World) -> None:
    run, attempt = claimed(here, OVER)
    before = PlanRun.objects.get().lease_until
    standing = Standing("improve", 12.5, 10.0, 0.25, 30)
    assert not run_progress(run=run, attempt=attempt, lease=LEASE, standing=standing)
    row = PlanRun.objects.get()
    assert (row.stage, row.objective, row.bound, row.gap, row.booked) == (
        "improve",
        12.5,
        10.0,
        0.25,
        30,
    )
    assert before is not None
    assert row.lease_until is not None
    assert row.lease_until > before
    assert run_requeue_lapsed(most=MOST) == []


def test_the_lease_runs_from_now(here: World) -> None:
    """The database adds the lease to its own clock; this machine's is the same one here."""
    claimed(here, timedelta(hours=2))
    until = PlanRun.objects.get().lease_until
    assert until is not None
    assert abs(until - timezone.now() - timedelta(hours=2)) < timedelta(minutes=5)


def test_who_was_given_up_can_write_no_more(here: World) -> None:
    run, first = claimed(here, OVER)
    assert run_requeue_lapsed(most=MOST) == [run]
    second = run_claim(run=run, worker="two", lease=LEASE)
    assert second == first + 1
    before = PlanRun.objects.values().get()
    writes = (
        lambda: run_progress(run=run, attempt=first, lease=LEASE, standing=Standing("late")),
        lambda: run_keep(run=run, attempt=first, kept=KEPT),
        lambda: run_finish(run=run, attempt=first, kept=KEPT),
        lambda: run_end_early(run=run, attempt=first),
        lambda: run_fail(run=run, attempt=first, error="late"),
        lambda: run_release(run=run, attempt=first),
    )
    for write in writes:
        with pytest.raises(ChangedMeanwhile, match="attempt 1"):
            write()
    assert PlanRun.objects.values().get() == before
    assert not PlanResult.objects.exists()
    run_finish(run=run, attempt=second, kept=KEPT)
    assert state(run) == RunState.READY


def test_a_run_ends_once(here: World) -> None:
    run, attempt = claimed(here)
    run_finish(run=run, attempt=attempt, kept=KEPT)
    with pytest.raises(ChangedMeanwhile):
        run_finish(run=run, attempt=attempt, kept=KEPT)
    with pytest.raises(ChangedMeanwhile):
        run_fail(run=run, attempt=attempt, error="too late")
    row = PlanRun.objects.get()
    assert (row.state, row.error, row.booked, row.unbooked, row.lease_until) == (
        "ready",
        "",
        4,
        1,
        None,
    )
    assert row.ended_at is not None
    kept = run_result(run=run)
    assert kept is not None
    assert (bytes(kept.network), bytes(kept.plan), kept.attempt) == (b"network", b"plan", 1)


def test_a_worker_that_is_lost_again_and_again_fails_the_run(here: World) -> None:
    run = asked(here)
    for _ in range(MOST):
        assert state(run) == RunState.WAITING
        run_claim(run=run, worker="one", lease=OVER)
        run_requeue_lapsed(most=MOST)
    row = PlanRun.objects.get()
    assert (row.state, row.attempt, row.lost) == (RunState.FAILED, MOST, MOST)
    assert row.error.startswith("its workers were lost, 3 in all; ask for a shorter run")
    assert run_requeue_lapsed(most=MOST) == []


def test_what_was_kept_survives_the_loss_of_every_worker(here: World) -> None:
    run, attempt = claimed(here, OVER)
    run_keep(run=run, attempt=attempt, kept=KEPT)
    assert run_requeue_lapsed(most=1) == []
    row = PlanRun.objects.get()
    assert (row.state, row.error) == (
        RunState.READY,
        "its workers were lost, 1 in all; this is the best plan that was found before",
    )
    assert run_result(run=run) is not None


def test_a_later_attempt_replaces_network_and_plan_together(here: World) -> None:
    run, attempt = claimed(here, OVER)
    run_keep(run=run, attempt=attempt, kept=KEPT)
    run_requeue_lapsed(most=MOST)
    second = run_claim(run=run, worker="two", lease=LEASE)
    assert second == 2
    other = Kept(b"other network", b"other plan", "m" * 64, "q" * 64, Standing(), 0)
    run_finish(run=run, attempt=second, kept=other)
    row = PlanResult.objects.get()
    assert (bytes(row.network), bytes(row.plan), row.attempt) == (
        b"other network",
        b"other plan",
        2,
    )


def test_a_run_that_waits_is_cancelled_at_once(here: World) -> None:
    run = asked(here)
    row = run_cancel(run=run, by=here.desk)
    assert (row.state, row.cancel_asked_by, row.started_at) == ("stopped", here.desk, None)
    assert run_claim(run=run, worker="one", lease=LEASE) is None


def test_a_run_under_way_hears_that_it_is_cancelled_and_keeps_its_plan(here: World) -> None:
    run, attempt = claimed(here)
    assert run_cancel(run=run).state == RunState.PLANNING
    assert run_progress(run=run, attempt=attempt, lease=LEASE, standing=Standing())
    run_keep(run=run, attempt=attempt, kept=KEPT)
    assert run_end_early(run=run, attempt=attempt) == RunState.READY


def test_cancelled_before_there_was_a_plan_it_is_stopped(here: World) -> None:
    run, attempt = claimed(here)
    run_cancel(run=run)
    assert run_end_early(run=run, attempt=attempt) == RunState.STOPPED


def test_a_cancelled_run_whose_worker_is_lost_is_not_begun_again(here: World) -> None:
    run, _ = claimed(here, OVER)
    run_cancel(run=run)
    assert run_requeue_lapsed(most=MOST) == []
    assert state(run) == RunState.STOPPED


def test_cancelling_what_is_over_changes_nothing(here: World) -> None:
    run, attempt = claimed(here)
    run_finish(run=run, attempt=attempt, kept=KEPT)
    before = PlanRun.objects.values().get()
    run_cancel(run=run, by=here.desk)
    assert PlanRun.objects.values().get() == before


def test_a_worker_that_ends_gives_its_run_back_uncounted(here: World) -> None:
    run, attempt = claimed(here)
    run_release(run=run, attempt=attempt)
    row = PlanRun.objects.get()
    assert (row.state, row.lost, row.attempt) == (RunState.WAITING, 0, 1)
    assert run_claim(run=run, worker="two", lease=LEASE) == 2


def test_an_error_ends_a_run_with_a_text(here: World) -> None:
    run, attempt = claimed(here)
    assert run_fail(run=run, attempt=attempt, error="x" * 600) == RunState.FAILED
    assert PlanRun.objects.get().error == "x" * 500


def test_a_plan_is_decided_on_once(here: World) -> None:
    run, attempt = claimed(here)
    with pytest.raises(NotReady, match="planning"):
        run_accept(run=run, by=here.desk, at=NOW)
    run_finish(run=run, attempt=attempt, kept=KEPT)
    assert run_accept(run=run, by=here.desk, at=NOW).state == RunState.KEPT
    with pytest.raises(NotReady, match="kept"):
        run_accept(run=run, by=here.desk, at=NOW)
    with pytest.raises(NotReady, match="kept"):
        run_put_aside(run=run)


def test_what_waits_is_sent_until_it_was_and_again_where_the_queue_may_have_lost_it(
    here: World,
) -> None:
    run = asked(here)
    hour, now = timedelta(hours=1), timedelta(0)
    assert [row.pk for row in runs_to_send(after=hour)] == [run]
    run_sent(run=run)
    assert list(runs_to_send(after=hour)) == []
    PlanRun.objects.update(sent_at=NOW)
    assert [row.pk for row in runs_to_send(after=now)] == [run]
    run_claim(run=run, worker="one", lease=LEASE)
    assert list(runs_to_send(after=now)) == []
