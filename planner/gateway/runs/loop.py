"""One worker process: takes tasks from the queue until it is told to end."""

from __future__ import annotations

import logging
import os
import signal
import time
from threading import Thread
from types import FrameType
from typing import Any

from celery.signals import worker_shutting_down
from django.conf import settings
from django.db import connection
from django_tasks_db.management.commands.db_worker import Worker

from planner.gateway.broker import app
from planner.gateway.runs.patience import AWAY
from planner.gateway.runs.worker import ending, worker_name

log = logging.getLogger(__name__)

LOOK = 1.0
"""Seconds between two looks at the queue, and at the parent."""


def take_tasks(parent: int) -> None:
    """Work in this process, which ends with its parent; SIGTERM ends it, a second one at once."""
    Thread(target=_end_with, args=(parent,), daemon=True).start()
    if settings.BROKER:
        # Threads: a run starts processes of its own, which a child of a pool may not; the
        # connection is kept alive meanwhile, and the end of the worker reaches the run.
        words = "worker --pool threads --concurrency 1 --without-gossip --without-mingle"
        app.worker_main([*words.split(), "--hostname", f"{os.getpid()}@%h"])
    else:
        RecordWorker().run()


@worker_shutting_down.connect  # type: ignore[untyped-decorator]
def give_back(**_: Any) -> None:
    """Let the run under way be given back: Celery's warm end would wait for it."""
    ending.set()


class RecordWorker(Worker):
    """The library's worker over the database, which outlives a database that restarts."""

    def __init__(self) -> None:
        super().__init__(
            queue_names=["default"],
            interval=LOOK,
            batch=False,
            backend_name="default",
            startup_delay=False,
            max_tasks=None,
            worker_id=worker_name(),
            excluded_queue_names=[],
        )

    def run(self) -> None:
        """Take tasks until told to end."""
        self.configure_signals()
        while self.running:
            try:
                super().run()
            except AWAY as error:
                log.warning("the queue is away (%s); looking again", error)
                connection.close()
                time.sleep(LOOK)

    def shutdown(self, signum: int, frame: FrameType | None) -> None:
        """Let the run under way be given back, and end."""
        ending.set()
        super().shutdown(signum, frame)


def _end_with(parent: int) -> None:
    """Ask this process to end when its parent is gone: another may have taken its place."""
    while os.getppid() == parent:
        time.sleep(LOOK)
    log.warning("the process that started this worker is gone")
    os.kill(os.getpid(), signal.SIGTERM)
