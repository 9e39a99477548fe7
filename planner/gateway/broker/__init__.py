"""Celery behind the same tasks, for several machines; only what ``PLATEN_BROKER`` names is used.

A message carries the path of a task of `django_tasks` and its arguments. It is acknowledged when
the task has ended, and comes back where its worker is lost; a run that somebody has is left alone,
so that a message may come twice.
"""

from __future__ import annotations

import logging
from typing import Any

from celery import Celery
from celery.signals import setup_logging
from django.utils.module_loading import import_string
from django_tasks.base import Task

NAME = "platen.task"

app = Celery("platen")
app.config_from_object("django.conf:settings", namespace="CELERY")


@app.task(name=NAME)  # type: ignore[untyped-decorator]
def run_task(path: str, args: list[Any], kwargs: dict[str, Any]) -> None:
    """Call a task by its path. Raises TypeError for a path that names none."""
    task = import_string(path)
    if not isinstance(task, Task):
        raise TypeError(f"{path} is no task")
    task.call(*args, **kwargs)


@setup_logging.connect  # type: ignore[untyped-decorator]
def keep_logging(**_: Any) -> None:
    """Leave logging as Django has it, and let the worker say when it comes and goes."""
    logging.getLogger("celery").setLevel(logging.INFO)
