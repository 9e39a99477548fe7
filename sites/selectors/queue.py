"""How the background runs are doing: for health and metrics, not for people."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Count, Max, Min, Q, Value
from django.db.models.functions import Coalesce, Now

from sites.models import PlanRun, RunState

PATIENCE = timedelta(minutes=5)
"""How long a run may wait while no worker is heard from, before somebody should look."""


@dataclass(frozen=True, slots=True)
class Queue:
    """Counts of runs by state; ages in seconds by the database's clock, 0 where there is none.

    ``waiting`` is how long the oldest waiting run has waited, ``silent`` how long the planning run
    heard from least lately has been silent, ``lost`` how often workers of open runs were lost.
    ``workers`` is how many workers that have a run were heard from within `PATIENCE`: one without a
    run leaves no sign in the record.
    """

    by_state: dict[str, int]
    waiting: float
    silent: float
    lost: int
    workers: int

    @property
    def stuck(self) -> bool:
        """Whether runs wait for a worker and none has been heard from."""
        return self.waiting > PATIENCE.total_seconds() and not self.workers


def queue() -> Queue:
    """The queue as it is: two queries, however many runs there are."""
    counts = dict(PlanRun.objects.order_by().values_list("state").annotate(count=Count("pk")))
    waits, plans = Q(state=RunState.WAITING), Q(state=RunState.PLANNING)
    lately = Q(heard_at__gt=Now() - Value(PATIENCE))
    ages = PlanRun.objects.filter(waits | plans).aggregate(
        now=Max(Now()),
        waiting=Min("created_at", filter=waits),
        silent=Min("heard_at", filter=plans),
        workers=Count("worker", distinct=True, filter=plans & lately),
        lost=Coalesce(Max("lost"), 0),
    )

    def age(since: datetime | None) -> float:
        return max(0.0, (ages["now"] - since).total_seconds()) if since else 0.0

    return Queue(
        by_state={state: counts.get(state, 0) for state in RunState.values},
        waiting=age(ages["waiting"]),
        silent=age(ages["silent"]),
        lost=ages["lost"],
        workers=ages["workers"],
    )
