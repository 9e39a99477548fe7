"""What a person at a terminal sees of a run, and how they end it early."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

from planner.engine.booking import Progress

QUICKEST = 0.25
"""Seconds between two lines of one stage: improvements come faster than anybody reads."""

SIGNALS = (signal.SIGINT, signal.SIGTERM)


class ConsoleWatch:
    """Prints a run's progress and holds the flag that ends it.

    ``write`` takes one line without its end; None prints nothing. A stage's first report is always
    printed, later ones at most every `QUICKEST` seconds of the run.
    """

    def __init__(self, write: Callable[[str], object] | None) -> None:
        self._write = write
        self._stop = False
        self._stage: str | None = None
        self._printed = 0.0

    def report(self, progress: Progress) -> None:
        """Print one line of progress."""
        soon = progress.seconds - self._printed < QUICKEST
        if self._write is None or (progress.stage == self._stage and soon):
            return
        self._stage, self._printed = progress.stage, progress.seconds
        self._write(progress_line(progress))

    def stopped(self) -> bool:
        """Whether somebody asked the run to end."""
        return self._stop

    def stop(self) -> None:
        """Ask the run to end with the best checked plan so far."""
        self._stop = True


def progress_line(progress: Progress) -> str:
    """Seconds, stage, best cost, bound, gap, booked, detail; a dash for what is unknown."""
    parts = [
        f"{progress.seconds:7.1f} s",
        f"{progress.stage:<12}",
        f"cost {_number(progress.cost):>12}",
        f"bound {_number(progress.bound):>12}",
        f"gap {'-' if progress.gap is None else f'{progress.gap:.2%}':>8}",
        f"booked {'-' if progress.booked is None else f'{progress.booked:,}':>7}",
        progress.detail,
    ]
    return "  ".join(parts).rstrip()


def _number(value: float | None) -> str:
    return "-" if value is None else f"{value:,.2f}"


@contextmanager
def interruptible(watch: ConsoleWatch) -> Iterator[None]:
    """Let Ctrl-C and SIGTERM stop ``watch``; the second of them ends the process at once.

    Only the main thread may install signal handlers, and only it should run a command. What was
    installed before is put back on the way out.
    """

    def handle(number: int, _frame: FrameType | None) -> None:
        if watch.stopped():
            signal.signal(number, signal.SIG_DFL)
            os.kill(os.getpid(), number)
        watch.stop()

    before = {number: signal.signal(number, handle) for number in SIGNALS}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
