"""The watch of a run in the background: keeps its lease, tells where it stands, ends it."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import timedelta
from threading import Event, Thread
from types import TracebackType

from django.db import InterfaceError, OperationalError, connection, connections

from planner.engine.booking import Progress
from sites.errors import Busy, ChangedMeanwhile
from sites.services.runs import Standing, run_progress

log = logging.getLogger(__name__)

BEAT = 1.0
"""Seconds between two writes of a run's row, at most a fifth of the lease."""
SILENCE = 30 * 60.0
"""Seconds without a sign of the engine after which its lease is not renewed any more."""
AWAY = (OperationalError, InterfaceError, Busy)
"""What a database raises that is restarting, or busy beyond patience."""


class RunWatch:
    """Hears a run's progress and writes it once a `BEAT`, from a thread of its own.

    The thread renews the lease while the engine computes without a word, and goes on trying where
    the database is away. Inside a transaction of the caller nobody else sees the run: no thread is
    started, and nothing is written meanwhile.

    ``cancelled``: somebody asked the run to end. ``gone``: the run is not this attempt's any more.
    """

    def __init__(
        self, run: int, attempt: int, lease: timedelta, ending: Callable[[], bool]
    ) -> None:
        self.run, self.attempt, self.lease = run, attempt, lease
        self.cancelled = self.gone = False
        self._ending = ending
        self._stop, self._done = Event(), Event()
        self._standing = Standing()
        self._heard = time.monotonic()
        self._thread: Thread | None = None

    def report(self, progress: Progress) -> None:
        """Take note of where the run stands."""
        self._heard = time.monotonic()
        self._standing = Standing(
            progress.stage, progress.cost, progress.bound, progress.gap, progress.booked or 0
        )

    def stopped(self) -> bool:
        """Whether to end: cancelled, given up, or the worker is ending."""
        self._heard = time.monotonic()
        return self._stop.is_set() or self._ending()

    def enter(self, stage: str) -> None:
        """Say what is done outside the engine."""
        self._heard = time.monotonic()
        self._standing = Standing(stage)

    def beat(self) -> None:
        """Write where the run stands, and hear whether it is to end."""
        if time.monotonic() - self._heard > SILENCE:
            return
        try:
            self.cancelled = run_progress(
                run=self.run, attempt=self.attempt, lease=self.lease, standing=self._standing
            )
        except ChangedMeanwhile:
            self.gone = True
        except AWAY as error:
            log.warning("run %s: the record is away (%s)", self.run, error)
            connection.close()
        if self.cancelled or self.gone:
            self._stop.set()

    def __enter__(self) -> RunWatch:
        if not connection.in_atomic_block:
            self._thread = Thread(target=self._beats, name=f"run {self.run}", daemon=True)
            self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._done.set()
        if self._thread is not None:
            self._thread.join()

    def _beats(self) -> None:
        pause = min(BEAT, self.lease.total_seconds() / 5)
        try:
            while not self._done.wait(pause) and not self.gone:
                self.beat()
        finally:
            connections.close_all()
