"""The tasks that a queue carries: the number of a run, and nothing else."""

from __future__ import annotations

import logging

from django_tasks import task

from planner.gateway.runs.execute import execute
from planner.gateway.runs.parts import help_with
from planner.gateway.runs.worker import ending, worker_name
from sites.audit import actor

log = logging.getLogger(__name__)


@task()
def plan_run(run: int) -> None:
    """Work on a run until it ends; whatever comes of it stands in the run's row."""
    with actor.acting(actor.task("plan_run")):
        execute(
            run, worker=worker_name(), ending=ending.is_set, call=lambda count: call(run, count)
        )


@task()
def help_run(run: int) -> None:
    """Plan parts of a run that another worker has."""
    with actor.acting(actor.task("help_run")):
        help_with(run, worker_name(), ending.is_set)


def call(run: int, count: int) -> None:
    """Ask so many workers to help; where the queue is away, the run goes on without them."""
    try:
        for _ in range(count):
            help_run.enqueue(run)
    except Exception as error:  # whatever a broker raises
        log.warning("run %s: nobody can be asked to help (%s)", run, error)
