"""Workers as children of this process, and the sweep that goes with them."""

from __future__ import annotations

import logging
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, Thread

from django.conf import settings
from django.db import connection, connections

from planner.gateway.runs.patience import AWAY
from planner.gateway.runs.sweep import sweep
from sites.outbox import send_until

log = logging.getLogger(__name__)

PULSE = 0.5
"""Seconds between two looks at the children."""
SWEEP = 5.0
"""Seconds between two sweeps, at most half a lease."""
GRACE = 20.0
"""Seconds in which a worker may give its run back before it is ended."""
QUICK = 10.0
"""A worker that ended sooner than so many seconds after its start is not started at once again."""


class Workers:
    """So many worker processes, started again where one ends, and runs taken back from the lost.

    They stand outside this process's group, so that Ctrl-C reaches them once, through `end`.
    """

    def __init__(self, count: int) -> None:
        self.children: list[subprocess.Popen[bytes]] = [start() for _ in range(count)]
        self._started = [time.monotonic()] * count
        self._swept = 0.0
        self._calm = 0.0

    def watch(self, done: Event) -> None:
        """Look after them until ``done``; then end them."""
        pause = min(SWEEP, settings.RUN_LEASE / 2)
        notices_beside(done)
        try:
            while not done.wait(PULSE):
                self._start_again()
                if time.monotonic() - self._swept >= pause:
                    self._swept = time.monotonic()
                    self._sweep()
        finally:
            connections.close_all()
            self.end()

    def end(self) -> None:
        """Tell every worker to end, and end those that take too long."""
        for child in self.children:
            child.terminate()
        until = time.monotonic() + GRACE
        for child in self.children:
            try:
                child.wait(max(0.0, until - time.monotonic()))
            except (subprocess.TimeoutExpired, KeyboardInterrupt):
                child.kill()
                child.wait()

    def _start_again(self) -> None:
        for k, child in enumerate(self.children):
            if child.poll() is not None and time.monotonic() - self._started[k] > QUICK:
                log.warning("worker %s ended (%s); starting another", child.pid, child.returncode)
                self.children[k], self._started[k] = start(), time.monotonic()

    def _sweep(self) -> None:
        """Sweep; after a time without the record, leases are left alone: none could be renewed."""
        try:
            sweep(lapsed=time.monotonic() >= self._calm)
        except AWAY as error:
            log.warning("the record is away (%s)", error)
            self._calm = time.monotonic() + settings.RUN_LEASE
            connection.close()


def start() -> subprocess.Popen[bytes]:
    """Start one worker process, in a session of its own."""
    return subprocess.Popen(  # noqa: S603 - this program, no words from outside
        [sys.executable, str(Path(settings.BASE_DIR) / "manage.py"), "work", "--one"],
        start_new_session=True,
    )


def notices_beside(done: Event) -> bool:
    """Send notices from a thread where a mail server is named; whether that is so.

    Not in the demo: its thousands of invented messages are sent by ``send_notices``, when asked.
    """
    if not settings.MAIL or settings.DEMO:
        return False
    Thread(target=send_until, args=(done,), name="notices", daemon=True).start()
    return True


@contextmanager
def workers_beside(count: int) -> Iterator[None]:
    """Workers for as long as a server runs, looked after by a thread."""
    if not count:
        yield
        return
    done = Event()
    workers = Workers(count)
    thread = Thread(target=workers.watch, args=(done,), name="workers")
    thread.start()
    try:
        yield
    finally:
        done.set()
        thread.join()
