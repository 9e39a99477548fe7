"""The watch of work in the background: keeps its lease, tells where it stands, ends it."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from datetime import timedelta
from threading import Event, Thread
from types import TracebackType

from django.db import connection, connections

from planner.engine.booking import Progress
from planner.gateway.runs.patience import AWAY
from sites.errors import ChangedMeanwhile
from sites.services.runs import Standing

log = logging.getLogger(__name__)

BEAT = 1.0
"""Seconds between two writes of a run's row, at most a fifth of the lease."""
SILENCE = 30 * 60.0
"""Seconds without a sign of the engine after which its lease is not renewed any more."""


class LeaseWatch:
    """Hears the progress of ``what`` and tells it once a `BEAT`, from a thread of its own.

    The thread renews the lease while the engine computes without a word, and goes on trying where
    the database is away. Inside a transaction of the caller nobody else sees the run: no thread is
    started, and nothing is written meanwhile.

    ``tell`` writes a standing, renews the lease and returns whether to end; it raises
    ChangedMeanwhile where somebody else has the work. ``cancelled``: somebody asked it to end.
    ``gone``: somebody else has it. ``standing``, where it is set, says where the work stands.
    """

    def __init__(
        self,
        what: str,
        tell: Callable[[Standing], bool],
        lease: timedelta,
        ending: Callable[[], bool],
        worker: str,
    ) -> None:
        self.what, self.worker = what, worker
        self.cancelled = self.gone = False
        self.standing: Callable[[], Standing] | None = None
        self._tell, self._lease = tell, lease
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
            self.cancelled = self._tell(self.standing() if self.standing else self._standing)
        except ChangedMeanwhile:
            self.gone = True
        except AWAY as error:
            log.warning("%s: the record is away (%s)", self.what, error)
            connection.close()
        if self.cancelled or self.gone:
            self._stop.set()

    def __enter__(self) -> LeaseWatch:
        if not connection.in_atomic_block:
            self._thread = Thread(target=self._beats, name=self.what, daemon=True)
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
        pause = min(BEAT, self._lease.total_seconds() / 5)
        try:
            while not self._done.wait(pause) and not self.gone:
                self.beat()
        finally:
            connections.close_all()
