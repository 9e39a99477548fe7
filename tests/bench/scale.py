"""``python -m tests.bench.scale S M demo FILE ...``: measure, print a table, write CSV."""

from __future__ import annotations

import argparse
import multiprocessing
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from planner.engine.errors import PlatenError
from planner.engine.scenario.sizes import SIZES
from tests.bench.scale_measure import DEMO, Job, Row, measure
from tests.bench.scale_table import table_text, write_csv

SATURATED = 1.5


def main(arguments: list[str] | None = None) -> int:
    """Measure the cases asked for, each in a fresh process; 1 where one failed or broke a rule."""
    asked = _parser().parse_args(arguments)
    rows: list[Row] = []
    failed = False
    for case in asked.cases:
        job = Job(
            case,
            seed=asked.seed,
            load=asked.load * (SATURATED if asked.saturated else 1.0),
            seconds=asked.seconds,
            effort=asked.effort,
            workers=asked.workers,
            draws=asked.draws,
            plans=not asked.read_only,
        )
        try:
            row = _in_fresh_process(job)
        except (PlatenError, ValueError) as error:
            print(f"{case}: {error}", file=sys.stderr)
            failed = True
            continue
        rows.append(row)
        failed = failed or bool(row.broken)
        print(f"{case} done", file=sys.stderr)
        if asked.csv:
            write_csv(asked.csv, rows)
    if rows:
        print(table_text(rows))
    return int(failed)


def _in_fresh_process(job: Job) -> Row:
    """A process of its own, so that one case's peak memory is not another's."""
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=1, mp_context=context) as pool:
        return pool.submit(measure, job).result()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.scale", description=__doc__)
    parser.add_argument(
        "cases", nargs="+", help=f"{', '.join(SIZES)}, {DEMO}, or a network file; small ones first"
    )
    parser.add_argument("--seed", type=int, default=1, help="of networks, plans and checks (1)")
    parser.add_argument("--load", type=float, default=1.0, help="of the named sizes (1.0)")
    parser.add_argument("--saturated", action="store_true", help=f"multiply it by {SATURATED}")
    budget = parser.add_mutually_exclusive_group()
    budget.add_argument("--seconds", type=float, help="planning budget by the clock")
    budget.add_argument("--effort", type=int, help="planning budget that repeats exactly")
    parser.add_argument("--workers", type=int, default=1, help="planning processes (1)")
    parser.add_argument("--draws", type=int, default=10_000, help="draws of the check (10000)")
    parser.add_argument("--read-only", action="store_true", help="neither plan nor check")
    parser.add_argument("--csv", type=Path, help="write every measured value to this file")
    return parser


if __name__ == "__main__":
    sys.exit(main())
