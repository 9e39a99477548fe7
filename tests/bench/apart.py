"""One piece of work in a process of its own: its seconds, its peak memory, its end.

Memory is that of the process and those it starts, read from the system while it runs; where the
system does not tell (no ``/proc``), the process reports its own peak and no limit is kept.
"""

from __future__ import annotations

import multiprocessing
import pickle
import resource
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from typing import Any

from planner.engine.errors import PlatenError
from tests.bench.rivals.answer import NoPlan

DONE, FAILED = "done", "failed"
MEMORY_FULL, NOT_IN_TIME = "memory full", "no plan in time"
LOOK = 0.1
"""Seconds between two looks at the memory."""


@dataclass(frozen=True, slots=True)
class Ran:
    """How the work ended: `DONE` with its value, or in words why there is none.

    ``seconds`` count from the moment the argument was read; ``peak_mb`` is in millions of bytes. A
    fault of the work's own ends as `FAILED` with its text, and its traceback goes to stderr.
    """

    ended: str
    value: Any
    seconds: float
    peak_mb: float


def run_apart(
    work: Callable[[Any], Any], argument: object, *, seconds: float | None, memory_mb: float
) -> Ran:
    """Run ``work(argument)`` in a new process; ended where it outlasts or outgrows its limits."""
    context = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory(prefix="platen-bench-") as name:
        folder = Path(name)
        (folder / "ask").write_bytes(pickle.dumps((work, argument)))
        hears, says = context.Pipe(duplex=False)
        process = context.Process(target=_child, args=(name, says), daemon=False)
        process.start()
        says.close()
        try:
            ended, peak, spent = _watch(process, hears, seconds, memory_mb * 1e6)
        finally:
            if process.is_alive():
                process.kill()
            process.join()
        if ended:
            return Ran(ended, None, spent, peak / 1e6)
        answer = folder / "answer"
        if not answer.exists():
            # the system ends a process that asks for more memory than there is
            return Ran(f"{MEMORY_FULL} (ended by {process.exitcode})", None, spent, peak / 1e6)
        ended, value, spent, own = pickle.loads(answer.read_bytes())  # noqa: S301 - our own
    return Ran(ended, value, spent, max(peak, own) / 1e6)


def _watch(
    process: BaseProcess, hears: Connection, seconds: float | None, most: float
) -> tuple[str, float, float]:
    """Wait for the end; returns why it was ended early (or nothing), peak bytes and seconds."""
    peak, began = 0.0, None
    while process.is_alive():
        if began is None and hears.poll(LOOK):
            try:
                hears.recv()
            except EOFError:
                break
            began = time.monotonic()
        else:
            process.join(LOOK)
        peak = max(peak, _tree_bytes(process.pid or 0))
        spent = 0.0 if began is None else time.monotonic() - began
        if peak > most:
            return MEMORY_FULL, peak, spent
        if seconds is not None and spent > seconds:
            return NOT_IN_TIME, peak, spent
    return "", peak, 0.0 if began is None else time.monotonic() - began


def _child(name: str, says: Connection) -> None:
    folder = Path(name)
    work, argument = pickle.loads((folder / "ask").read_bytes())  # noqa: S301 - our own
    says.send("ready")
    began = time.perf_counter()
    value: Any = None
    try:
        value, ended = work(argument), DONE
    except MemoryError:
        ended = MEMORY_FULL
    except (NoPlan, PlatenError) as error:
        ended = str(error)
    except Exception as error:
        ended = f"{FAILED}: {type(error).__name__}: {error}"
        sys.excepthook(type(error), error, error.__traceback__)
    spent = time.perf_counter() - began
    answer = folder / "answer.part"
    answer.write_bytes(pickle.dumps((ended, value, spent, _own_peak())))
    answer.rename(folder / "answer")


def _own_peak() -> float:
    """Peak bytes of this process.

    The high-water mark of the process's own memory; getrusage alone would count what the parent
    held when it was started.
    """
    found = _status(Path("/proc/self"), "VmHWM:")
    return found or resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024.0


def _tree_bytes(pid: int) -> float:
    """Bytes that a process and those it started hold now; 0 where the system does not tell."""
    home, total = Path(f"/proc/{pid}"), 0.0
    total += _status(home, "VmRSS:")
    for task in home.glob("task/*/children"):
        try:
            children = task.read_text().split()
        except OSError:
            continue
        total += sum(_tree_bytes(int(child)) for child in children)
    return total


def _status(home: Path, key: str) -> float:
    try:
        lines = (home / "status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((1024.0 * float(line.split()[1]) for line in lines if line.startswith(key)), 0.0)
