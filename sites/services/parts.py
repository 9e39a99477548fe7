"""The parts of a run: made by the worker that has it, planned by whoever is free.

A write of a worker is fenced twice: by the part's attempt, and by the attempt of the run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from django.db.models import F, Q, QuerySet, Value
from django.db.models.functions import Now

from sites.errors import ChangedMeanwhile
from sites.models import PartState, PlanRun, RunPart, RunState
from sites.services.runs import Standing, columns
from sites.services.write import written


@dataclass(frozen=True, slots=True)
class Region:
    """A region to plan: its compressed network, how many requests it has, and its budget."""

    network: bytes
    requests: int
    seconds: float | None
    effort: int | None


@written
def parts_make(*, run: int, attempt: int, regions: Sequence[Region]) -> None:
    """Make the parts of a run's attempt, the largest first; those of earlier attempts go.

    Raises ChangedMeanwhile where the run is no longer with that attempt.
    """
    mine = PlanRun.objects.filter(pk=run, attempt=attempt, state=RunState.PLANNING)
    if not mine.update(heard_at=Now()):
        raise _gone(f"run {run}", attempt)
    RunPart.objects.filter(run=run).delete()
    order = sorted(range(len(regions)), key=lambda k: -regions[k].requests)
    RunPart.objects.bulk_create(
        RunPart(
            run_id=run,
            run_attempt=attempt,
            number=number,
            place=place,
            network=regions[number].network,
            seconds=regions[number].seconds,
            effort=regions[number].effort,
        )
        for place, number in enumerate(order)
    )


@written
def part_claim(*, run: int, worker: str, lease: timedelta) -> RunPart | None:
    """Take the first part of a run that waits; None where there is none, or the run is over."""
    for part in list(_live().filter(run=run, state=PartState.WAITING).order_by("place")):
        if RunPart.objects.filter(pk=part.pk, state=PartState.WAITING).update(
            state=PartState.PLANNING,
            attempt=F("attempt") + 1,
            worker=worker[:64],
            lease_until=Now() + Value(lease),
        ):
            part.refresh_from_db()
            return part
    return None


@written
def part_progress(*, part: int, attempt: int, lease: timedelta, standing: Standing) -> bool:
    """Say where a part stands and renew its lease; returns whether its run is to be cancelled."""
    _fenced(part, attempt, lease_until=Now() + Value(lease), **columns(standing))
    return RunPart.objects.filter(pk=part, run__cancel_asked_at__isnull=False).exists()


@written
def part_finish(*, part: int, attempt: int, plan: bytes, standing: Standing) -> None:
    """Keep the plan of a part."""
    _fenced(part, attempt, state=PartState.DONE, lease_until=None, plan=plan, **columns(standing))


@written
def part_release(*, part: int, attempt: int) -> None:
    """Give a part back: its worker is ending."""
    _fenced(part, attempt, state=PartState.WAITING, lease_until=None, stage="")


@written
def parts_requeue_lapsed(*, run: int) -> int:
    """Take parts back from workers that were not heard from; the most that one was lost."""
    RunPart.objects.filter(run=run, state=PartState.PLANNING, lease_until__lt=Now()).update(
        state=PartState.WAITING, lease_until=None, lost=F("lost") + 1
    )
    return max(RunPart.objects.filter(run=run).values_list("lost", flat=True), default=0)


def _live() -> QuerySet[RunPart]:
    """Parts of the attempt that has the run now."""
    return RunPart.objects.filter(run__state=RunState.PLANNING, run_attempt=F("run__attempt"))


def _fenced(part: int, attempt: int, **values: Any) -> None:
    mine = Q(pk=part, attempt=attempt, state=PartState.PLANNING)
    live = _live().filter(mine).values("pk")
    if not RunPart.objects.filter(mine, pk__in=live).update(**values):
        raise _gone(f"part {part}", attempt)


def _gone(what: str, attempt: int) -> ChangedMeanwhile:
    return ChangedMeanwhile(
        what, f"is no longer with attempt {attempt}", "leave it to whoever has it now"
    )
