"""Progress lines, and the flag that a signal sets."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

from planner.engine.booking import Progress
from planner.gateway.progress import ConsoleWatch, interruptible, progress_line

ROOT = Path(__file__).resolve().parents[2]


def test_a_line_says_stage_cost_bound_gap_and_booked() -> None:
    line = progress_line(Progress("timetable", 1234.5, 1200.0, 0.02875, 2890, "day 3", 12.34))
    said = " ".join(line.split())
    assert said == "12.3 s timetable cost 1,234.50 bound 1,200.00 gap 2.88% booked 2,890 day 3"


def test_what_is_not_known_yet_is_a_dash() -> None:
    line = progress_line(Progress("allocate", None, None, None, None, "", 0.0))
    assert " ".join(line.split()) == "0.0 s allocate cost - bound - gap - booked -"


def test_a_stage_is_announced_at_once_and_repeated_slowly() -> None:
    lines: list[str] = []
    watch = ConsoleWatch(lines.append)
    for stage, when in (("a", 0.0), ("a", 0.1), ("a", 0.3), ("b", 0.31), ("b", 0.5), ("b", 0.6)):
        watch.report(Progress(stage, None, None, None, None, f"at {when}", when))
    assert [line.split()[-1] for line in lines] == ["0.0", "0.3", "0.31", "0.6"]


def test_a_quiet_watch_prints_nothing_and_can_be_stopped() -> None:
    watch = ConsoleWatch(None)
    watch.report(Progress("a", 1.0, 1.0, 0.0, 1, "", 1.0))
    assert not watch.stopped()
    watch.stop()
    assert watch.stopped()


def test_either_signal_stops_the_run_and_the_handlers_are_put_back() -> None:
    for number in (signal.SIGINT, signal.SIGTERM):
        before = signal.getsignal(number)
        watch = ConsoleWatch(None)
        with interruptible(watch):
            assert not watch.stopped()
            os.kill(os.getpid(), number)
            assert watch.stopped()
        assert signal.getsignal(number) == before


def test_the_second_signal_ends_the_process_at_once() -> None:
    code = (
        "import os, signal\n"
        "from planner.gateway.progress import ConsoleWatch, interruptible\n"
        "with interruptible(ConsoleWatch(None)):\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    print('still here', flush=True)\n"
        "    os.kill(os.getpid(), signal.SIGINT)\n"
        "    print('never said', flush=True)\n"
    )
    ended = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ended.stdout == "still here\n"
    assert ended.returncode == -signal.SIGINT
