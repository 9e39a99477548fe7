"""``python -m tests.bench.hard``: hard networks within their seconds, and where the time goes.

Each network of `tests.engine.booking.hard` is planned by the clock, in a process of its own, beside
the usual network that most of them are made from (`usual`). A line gives the seconds asked and
taken, what was taken beyond as a share, the seconds of each stage after the search, the
processor time per request against the usual network's under one fixed effort (where that jumps,
there is a cliff), and what the plan is worth. 1 where a plan is missing or breaks a rule.
"""

from __future__ import annotations

import argparse
import csv
import sys
import time
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.verify import verify
from planner.gateway.board import make_folder
from tests.bench.apart import DONE, run_apart
from tests.bench.contest import compile_first, ours
from tests.bench.rivals.answer import Answer, Ask
from tests.bench.table import aligned
from tests.engine.booking.hard import HARD, usual

USUAL = "usual"
OUT = Path("out/bench/hard.csv")
AFTER = ("mend", "reasons", "check")
"""Stages that the search's budget does not pace."""


@dataclass(frozen=True, slots=True)
class Row:
    """One hard network. ``beyond`` is taken over asked, less 1; ``against_usual`` a ratio."""

    network: str
    requests: int
    ended: str
    asked_s: float
    taken_s: float
    beyond: float
    search_s: float | None = None
    mend_s: float | None = None
    reasons_s: float | None = None
    check_s: float | None = None
    effort_cpu_s: float | None = None
    against_usual: float | None = None
    booked: int | None = None
    cost: float | None = None
    gap: float | None = None
    broken: int | None = None


def planned_with_cpu(ask: Ask) -> tuple[Plan, float]:
    """A plan, and the processor seconds of this process that it took."""
    began = time.process_time()
    answer: Answer = ours(ask)
    return answer.plan, time.process_time() - began


def measure(name: str, network: Network, asked: argparse.Namespace, usual_cpu: float | None) -> Row:
    """Plan by the clock, then by effort; ``usual_cpu`` is the usual network's per request."""
    memory = 1000 * asked.memory
    ask = Ask(network, {}, asked.seconds, None, asked.seed, asked.workers)
    ran = run_apart(planned_with_cpu, ask, seconds=None, memory_mb=memory)
    row = Row(
        name, len(network.requests), ran.ended, asked.seconds, ran.seconds,
        ran.seconds / asked.seconds - 1,
    )  # fmt: skip
    if ran.ended != DONE:
        return row
    found: Plan = ran.value[0]
    effort = Ask(network, {}, asked.seconds, asked.effort, asked.seed, 1)
    again = run_apart(planned_with_cpu, effort, seconds=None, memory_mb=memory)
    cpu = again.value[1] if again.ended == DONE else None
    per_request = None if cpu is None else cpu / len(network.requests)
    breaches = verify(
        network, found, draws=asked.draws, seed=asked.seed + 1000, care_may_be_unplaced=False
    )
    after = {stage: found.seconds.get(stage, 0.0) for stage in AFTER}
    return Row(
        row.network, row.requests, row.ended, row.asked_s, row.taken_s, row.beyond,
        search_s=sum(found.seconds.values()) - sum(after.values()),
        mend_s=after["mend"],
        reasons_s=after["reasons"],
        check_s=after["check"],
        effort_cpu_s=cpu,
        against_usual=per_request / usual_cpu if per_request and usual_cpu else None,
        booked=len(found.bookings),
        cost=found.objective,
        gap=found.gap,
        broken=len(breaches),
    )  # fmt: skip


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure, write each row as it comes, print a table."""
    asked = _parser().parse_args(arguments)
    make_folder(asked.csv.parent)
    compile_first(1000 * asked.memory)
    rows: list[Row] = []
    usual_cpu = None
    for name in (USUAL, *asked.networks):
        network = usual(asked.seed) if name == USUAL else HARD[name](asked.seed)
        row = measure(name, network, asked, usual_cpu)
        if name == USUAL and row.effort_cpu_s:
            usual_cpu = row.effort_cpu_s / row.requests
        rows.append(row)
        print(f"{name} done: {row.ended}", file=sys.stderr, flush=True)
        write(asked.csv, rows)
    print(aligned([tuple(field.name for field in fields(Row)), *map(_cells, rows)]))
    return int(any(row.ended != DONE or row.broken for row in rows))


def write(path: Path, rows: Sequence[Row]) -> None:
    """The rows as CSV, unrounded."""
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow([field.name for field in fields(Row)])
        writer.writerows(astuple(row) for row in rows)


def _cells(row: Row) -> tuple[str, ...]:
    shown = ("-" if v is None else f"{v:.2f}" if isinstance(v, float) else v for v in astuple(row))
    return tuple(str(value) for value in shown)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.hard", description=__doc__)
    parser.add_argument(
        "--networks", nargs="+", choices=HARD, default=list(HARD), metavar="NAME",
        help=f"of {', '.join(HARD)} (all)",
    )  # fmt: skip
    parser.add_argument("--seconds", type=float, default=10.0, help="by the clock, each (10)")
    parser.add_argument("--effort", type=int, default=1, help="of the second run (1)")
    parser.add_argument("--seed", type=int, default=1, help="of networks and plans (1)")
    parser.add_argument("--workers", type=int, default=1, help="processes by the clock (1)")
    parser.add_argument("--draws", type=int, default=10_000, help="draws of the check (10000)")
    parser.add_argument("--memory", type=float, default=8.0, help="GB for each run (8)")
    parser.add_argument("--csv", type=Path, default=OUT, help=f"where the rows go ({OUT})")
    return parser


if __name__ == "__main__":
    sys.exit(main())
