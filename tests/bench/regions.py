"""``python -m tests.bench.regions M --regions 4``: regions on several processes beside the whole.

Each row is a process of its own. Under ``--effort`` every row has the same search to do, so that
seconds compare; under ``--seconds`` every row may take as long, so that costs do. One judge checks
each plan; a broken rule is an exit code of 1.
"""

from __future__ import annotations

import argparse
import csv
import multiprocessing
import resource
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path

from planner.engine.booking import Options, plan
from planner.engine.booking.regions import plan_regions, split
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES, Size
from planner.engine.verify import verify
from planner.gateway.progress import ConsoleWatch
from planner.gateway.ready import make_ready


@dataclass(frozen=True, slots=True)
class Job:
    """One plan: of a network of this ``size`` and ``seed``, whole or by regions."""

    size: Size
    seed: int
    options: Options
    apart: bool
    draws: int


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured.

    ``seconds`` are those of the plan, ``split_s`` of finding the regions, ``check_s`` of the judge,
    all wall-clock; ``peak_mb`` is the largest of the processes, not their sum.
    """

    how: str
    workers: int
    regions: int
    requests: int
    seconds: float
    split_s: float
    check_s: float
    booked: int
    cost: float
    bound: float
    gap: float | None
    broken: int
    peak_mb: float


def measure(job: Job) -> Row:
    """Make the network, plan it as asked, judge the plan."""
    network = generate(job.size, seed=job.seed)
    began = time.perf_counter()
    regions = split(network)
    split_s = time.perf_counter() - began
    began = time.perf_counter()
    found = (plan_regions if job.apart else plan)(network, job.options)
    seconds = time.perf_counter() - began
    began = time.perf_counter()
    broken = verify(network, found, draws=job.draws, seed=job.seed, care_may_be_unplaced=False)
    check_s = time.perf_counter() - began
    peak = max(
        resource.getrusage(who).ru_maxrss
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return Row(
        how="regions" if job.apart else "whole",
        workers=job.options.workers,
        regions=len(regions),
        requests=len(network.requests),
        seconds=seconds,
        split_s=split_s,
        check_s=check_s,
        booked=len(found.bookings),
        cost=found.objective,
        bound=found.bound,
        gap=found.gap,
        broken=len(broken),
        peak_mb=peak / 1e3,
    )


def table(rows: list[Row]) -> str:
    """The rows as a table; speed-up is over the first row."""
    lines = [
        "| how | workers | regions | seconds | speed-up | cost | booked | gap | peak MB |",
        "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |",
    ]
    for row in rows:
        gap = "none" if row.gap is None else f"{row.gap:.1%}"
        lines.append(
            f"| {row.how} | {row.workers} | {row.regions} | {row.seconds:.0f} | "
            f"{rows[0].seconds / row.seconds:.2f} | {row.cost:,.0f} | "
            f"{row.booked:,} of {row.requests:,} | {gap} | {row.peak_mb:,.0f} |"
        )
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Measure the ways asked for; rows are written as they come."""
    asked = _parser().parse_args(arguments)
    size = replace(SIZES[asked.size], regions=asked.regions)
    options = Options(seconds=asked.seconds, effort=asked.effort, seed=asked.seed)
    make_ready(ConsoleWatch(None), lambda line: print(line, file=sys.stderr))
    rows: list[Row] = []
    for way in asked.ways:
        how, workers = way.split("-")
        job = Job(
            size, asked.seed, replace(options, workers=int(workers)), how == "regions", asked.draws
        )
        context = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(max_workers=1, mp_context=context) as pool:
            rows.append(pool.submit(measure, job).result())
        print(f"{way}: {rows[-1]}", file=sys.stderr)
        if asked.csv:
            _write(asked.csv, rows)
    print(table(rows))
    return int(any(row.broken for row in rows))


def _write(path: Path, rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, [field.name for field in fields(Row)])
        writer.writeheader()
        writer.writerows(asdict(row) for row in rows)


WAYS = ("whole-1", "whole-2", "regions-1", "regions-2")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.regions", description=__doc__)
    parser.add_argument("size", choices=sorted(SIZES))
    parser.add_argument("--regions", type=int, default=4, help="of the network (4)")
    parser.add_argument("--seed", type=int, default=1, help="of network, plan and check (1)")
    parser.add_argument("--ways", nargs="+", default=WAYS, help=f"of {', '.join(WAYS)} (all)")
    budget = parser.add_mutually_exclusive_group(required=True)
    budget.add_argument("--seconds", type=float, help="by the clock")
    budget.add_argument("--effort", type=int, help="the same search for each")
    parser.add_argument("--draws", type=int, default=4000, help="of the check (4000)")
    parser.add_argument("--csv", type=Path, help="write every measured value to this file")
    return parser


if __name__ == "__main__":
    sys.exit(main())
