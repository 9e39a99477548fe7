"""A planning run from its asking to its end. A worker's writes are fenced by its attempt.

A worker that was given up, or whose run has ended, is told so by `ChangedMeanwhile` whatever it
tries to write, and nothing is written. Leases and times go by the clock of the database: the clocks
of the machines that work on one record may differ.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import F, Q, Value
from django.db.models.functions import Coalesce, Now

from sites.access import require_here
from sites.errors import BadValue, ChangedMeanwhile, NotReady
from sites.models import PlanResult, PlanRun, RunPart, RunState, Site, User
from sites.services.write import written

LOST = "its workers were lost, {times} in all; {remedy}"
ASK_AGAIN = "ask for a shorter run or fewer sites, and see the log of the workers"


@dataclass(frozen=True, slots=True)
class Standing:
    """What a worker tells of its run: the stage, and the best plan so far."""

    stage: str = ""
    objective: float | None = None
    bound: float | None = None
    gap: float | None = None
    booked: int = 0


@dataclass(frozen=True, slots=True)
class Kept:
    """A checked plan and the network it is for, both files compressed, with their digests."""

    network: bytes
    plan: bytes
    network_digest: str
    plan_digest: str
    standing: Standing
    unbooked: int


@written
def run_ask(
    *,
    first_day: date,
    days: int,
    sites: Collection[Site] = (),
    requests: Sequence[str] | None = None,
    seconds: float | None = None,
    effort: int | None = None,
    seed: int = 0,
    by: User | None = None,
) -> PlanRun:
    """Ask for a run; it waits until a worker takes it. Raises BadValue.

    A run that names no site is over all of them, and for who covers them all. Raises NotHere.
    """
    require_here(by, *(sites or Site.objects.all()))
    if days < 1:
        raise BadValue(f"{days} days", "is not above 0", "ask for at least one day")
    if seconds is not None and effort is not None:
        raise BadValue("the budget", "is given twice", "give seconds or effort, not both")
    if requests is not None and not requests:
        raise BadValue("the list of requests", "is empty", "name a request, or ask for all")
    run = PlanRun.objects.create(
        first_day=first_day,
        days=days,
        requests=None if requests is None else sorted(set(requests)),
        seconds=seconds,
        effort=effort,
        seed=seed,
        by=by,
    )
    run.sites.set(sites)
    return run


@written
def run_sent(*, run: int) -> None:
    """Note that a waiting run was handed to the queue."""
    PlanRun.objects.filter(pk=run, state=RunState.WAITING).update(sent_at=Now())


@written
def run_claim(*, run: int, worker: str, lease: timedelta) -> int | None:
    """Take a waiting run: its new attempt, or None where it waits no more. One of many gets it."""
    won = PlanRun.objects.filter(pk=run, state=RunState.WAITING).update(
        state=RunState.PLANNING,
        attempt=F("attempt") + 1,
        worker=worker[:64],
        lease_until=Now() + Value(lease),
        heard_at=Now(),
        started_at=Coalesce("started_at", Now()),
        stage="",
    )
    return PlanRun.objects.values_list("attempt", flat=True).get(pk=run) if won else None


@written
def run_progress(*, run: int, attempt: int, lease: timedelta, standing: Standing) -> bool:
    """Say where a run stands and renew its lease; returns whether it is to be cancelled."""
    _fenced(run, attempt, lease_until=Now() + Value(lease), heard_at=Now(), **columns(standing))
    return PlanRun.objects.filter(pk=run, cancel_asked_at__isnull=False).exists()


@written
def run_keep(*, run: int, attempt: int, kept: Kept) -> None:
    """Keep the best plan so far, in place of an earlier one."""
    _keep(run, attempt, kept)


@written
def run_finish(*, run: int, attempt: int, kept: Kept) -> None:
    """End a run with its plan, ready for review."""
    _keep(run, attempt, kept)
    _end(run, attempt, RunState.READY)


@written
def run_end_early(*, run: int, attempt: int) -> RunState:
    """End a run that was cancelled: with the best plan that was kept, or stopped without one."""
    state = RunState.READY if _has_plan(run) else RunState.STOPPED
    _end(run, attempt, state)
    return state


@written
def run_fail(*, run: int, attempt: int, error: str) -> RunState:
    """End a run that met an error: with the best plan that was kept, or failed without one."""
    state = RunState.READY if _has_plan(run) else RunState.FAILED
    _end(run, attempt, state, error=error[:500] or "no reason was given")
    return state


@written
def run_release(*, run: int, attempt: int) -> None:
    """Give a run back to the queue, because its worker is ending; that is not counted as lost."""
    _fenced(run, attempt, state=RunState.WAITING, lease_until=None, sent_at=None, stage="")


@written
def run_cancel(*, run: int, by: User | None = None) -> PlanRun:
    """Cancel a run: at once where nobody works on it, else as soon as its worker hears of it.

    A run that is over stays as it is. The best plan so far is kept for review either way.
    """
    require_here(by, PlanRun.objects.get(pk=run))
    state = RunState.READY if _has_plan(run) else RunState.STOPPED
    asked: dict[str, Any] = {"cancel_asked_at": Now(), "cancel_asked_by": by}
    rows = PlanRun.objects.filter(pk=run, cancel_asked_at__isnull=True)
    if not rows.filter(state=RunState.WAITING).update(**asked, **_ended(state)):
        rows.filter(state=RunState.PLANNING).update(**asked)
    return PlanRun.objects.get(pk=run)


@written
def run_put_aside(*, run: int) -> PlanRun:
    """Put the plan of a run that is ready for review aside. Raises NotReady."""
    _decided(run, state=RunState.PUT_ASIDE)
    return PlanRun.objects.get(pk=run)


@written
def run_accept(*, run: int, by: User | None, at: datetime) -> PlanRun:
    """Take the plan of a run that is ready for review as kept: once. Raises NotReady.

    Called inside the transaction that writes the plan, so that both happen or neither.
    """
    require_here(by, PlanRun.objects.get(pk=run))
    _decided(run, state=RunState.KEPT, kept_by=by, kept_at=at)
    return PlanRun.objects.get(pk=run)


def _decided(run: int, **values: Any) -> None:
    if not PlanRun.objects.filter(pk=run, state=RunState.READY).update(**values):
        raise not_ready(PlanRun.objects.get(pk=run))


@written
def run_requeue_lapsed(*, most: int) -> list[int]:
    """Take runs back from workers that were not heard from; returns those that wait again.

    A run that was lost ``most`` times, or that was to be cancelled, ends: with the best plan that
    was kept, ready for review, or without one.
    """
    lapsed = PlanRun.objects.filter(state=RunState.PLANNING, lease_until__lt=Now())
    again = []
    rows = lapsed.order_by("pk").values_list("pk", "attempt", "lost", "cancel_asked_at")
    for run, attempt, lost, cancel in list(rows):
        mine = lapsed.filter(pk=run, attempt=attempt)
        values: dict[str, Any] = {"lost": F("lost") + 1}
        if cancel is not None or lost + 1 >= most:
            values |= _given_up(run, lost + 1, cancelled=cancel is not None)
        else:
            values |= {"state": RunState.WAITING, "lease_until": None, "sent_at": None}
        if not mine.update(**values):
            continue
        if values["state"] == RunState.WAITING:
            again.append(run)
        else:
            RunPart.objects.filter(run=run).delete()
    return again


def _given_up(run: int, lost: int, *, cancelled: bool) -> dict[str, Any]:
    if _has_plan(run):
        remedy = "this is the best plan that was found before"
        return {"error": LOST.format(times=lost, remedy=remedy), **_ended(RunState.READY)}
    if cancelled:
        return _ended(RunState.STOPPED)
    return {"error": LOST.format(times=lost, remedy=ASK_AGAIN), **_ended(RunState.FAILED)}


def not_ready(run: PlanRun) -> NotReady:
    """What to say where a run has no plan to decide on."""
    return NotReady(
        f"run {run.pk}",
        f"has no plan to decide on: {RunState(run.state).label.lower()}",
        "wait until it is ready for review, or ask for another run",
    )


def _has_plan(run: int) -> bool:
    return PlanResult.objects.filter(run=run).exists()


def _ended(state: RunState) -> dict[str, Any]:
    return {"state": state, "lease_until": None, "ended_at": Now(), "stage": ""}


def _end(run: int, attempt: int, state: RunState, **values: Any) -> None:
    """End a run as the worker that has it; what its parts held is needed no more."""
    _fenced(run, attempt, **values, **_ended(state))
    RunPart.objects.filter(run=run).delete()


def columns(standing: Standing) -> dict[str, Any]:
    """A standing as columns of its row."""
    return {
        "stage": standing.stage,
        "objective": standing.objective,
        "bound": standing.bound,
        "gap": standing.gap,
        "booked": standing.booked,
    }


def _keep(run: int, attempt: int, kept: Kept) -> None:
    _fenced(
        run,
        attempt,
        network_digest=kept.network_digest,
        plan_digest=kept.plan_digest,
        unbooked=kept.unbooked,
        **columns(kept.standing),
    )
    PlanResult.objects.update_or_create(
        run_id=run,
        defaults={
            "attempt": attempt,
            "saved_at": Now(),
            "network": kept.network,
            "plan": kept.plan,
        },
    )


def _fenced(run: int, attempt: int, **values: Any) -> None:
    """Write as the worker of an attempt. Raises ChangedMeanwhile where it is not its run now."""
    mine = Q(pk=run, attempt=attempt, state=RunState.PLANNING)
    if not PlanRun.objects.filter(mine).update(**values):
        raise ChangedMeanwhile(
            f"run {run}", f"is no longer with attempt {attempt}", "leave it to whoever has it now"
        )
