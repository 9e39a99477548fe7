"""The backend of `django_tasks` that sends tasks to Celery."""

from __future__ import annotations

from typing import Any

from django.utils import timezone
from django_tasks import TaskResult, TaskResultStatus
from django_tasks.backends.base import BaseTaskBackend
from django_tasks.base import Task
from django_tasks.signals import task_enqueued

from planner.gateway.broker import NAME, app

RETRY = {"max_retries": 1, "interval_start": 0.1, "interval_step": 0.1}
"""Once more on a new connection: the broker may have restarted since the last message."""


class CeleryBackend(BaseTaskBackend):
    """Sends and forgets: what comes of a task stands in the record, not in a result store."""

    def enqueue(self, task: Task[Any, Any], args: Any, kwargs: Any) -> TaskResult[Any]:
        """Send; the broker has confirmed it. Raises kombu's OperationalError where it is away."""
        self.validate_task(task)
        sent = app.send_task(
            NAME,
            args=[task.module_path, list(args), dict(kwargs)],
            retry=True,
            retry_policy=RETRY,
        )
        result: TaskResult[Any] = TaskResult(
            task=task,
            id=sent.id,
            status=TaskResultStatus.READY,
            enqueued_at=timezone.now(),
            started_at=None,
            last_attempted_at=None,
            finished_at=None,
            args=list(args),
            kwargs=dict(kwargs),
            backend=self.alias,
            errors=[],
            worker_ids=[],
        )
        task_enqueued.send(type(self), task_result=result)
        return result
