"""Planning runs to look at, to hand to the queue, and to decide on."""

from __future__ import annotations

from datetime import timedelta

from django.db.models import Q, QuerySet, Value
from django.db.models.functions import Now

from sites.models import OPEN_RUNS, PartState, PlanResult, PlanRun, RunPart, RunState


def runs() -> QuerySet[PlanRun]:
    """All runs, the newest first, with who asked and for which sites, in two queries."""
    return PlanRun.objects.select_related("by", "cancel_asked_by", "kept_by").prefetch_related(
        "sites"
    )


def runs_open() -> QuerySet[PlanRun]:
    """Runs that wait or that somebody works on, the oldest first."""
    return PlanRun.objects.filter(state__in=OPEN_RUNS).order_by("created_at")


def runs_to_send(*, after: timedelta) -> QuerySet[PlanRun]:
    """Waiting runs that were never handed to the queue, or so long ago that they may be lost."""
    late = Q(sent_at__isnull=True) | Q(sent_at__lt=Now() - Value(after))
    return PlanRun.objects.filter(late, state=RunState.WAITING).order_by("created_at")


def run_result(*, run: int) -> PlanResult | None:
    """The best plan of a run so far, or None; one query."""
    return PlanResult.objects.filter(run=run).first()


def run_parts(*, run: int) -> QuerySet[RunPart]:
    """The parts of a run by number, without the files; one query."""
    return RunPart.objects.filter(run=run).defer("network", "plan").order_by("number")


def part_files(*, run: int) -> list[tuple[bytes, bytes]]:
    """The network and the plan of each part that is planned, by number; one query."""
    rows = RunPart.objects.filter(run=run, state=PartState.DONE).order_by("number")
    return [
        (bytes(network), bytes(plan or b""))
        for network, plan in rows.values_list("network", "plan")
    ]
