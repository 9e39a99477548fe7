"""The task that a queue carries: the number of a run, and nothing else."""

from __future__ import annotations

from django_tasks import task

from planner.gateway.runs.execute import execute
from planner.gateway.runs.worker import ending, worker_name
from sites.audit import actor


@task()
def plan_run(run: int) -> None:
    """Work on a run until it ends; whatever comes of it stands in the run's row."""
    with actor.acting(actor.task("plan_run")):
        execute(run, worker=worker_name(), ending=ending.is_set)
