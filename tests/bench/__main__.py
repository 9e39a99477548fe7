"""``python -m tests.bench S M``: our plans beside rivals', same networks, same seconds, one judge.

Each contestant plans in a process of its own; whatever it makes is checked by the same judge, and a
rival without a plan keeps its row. Rows are written as they come, so that a run that is cut loses
one contestant; with ``--keep`` it goes on from the rows that are there.
"""

from __future__ import annotations

import argparse
import json
import shlex
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from planner.engine.errors import PlatenError
from planner.engine.network import Network
from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.gateway.board import make_folder
from planner.gateway.files import read_network
from tests.bench.apart import FAILED
from tests.bench.contest import CONTESTANTS, Case, compile_first, contend
from tests.bench.report import OUT, write_results
from tests.bench.rows import OURS, Row, read_rows, with_gaps
from tests.bench.table import news, terminal

DEMO = "demo"
SECONDS = {"S": 10.0, "M": 60.0, "L": 300.0, "XL": 1200.0}
"""What each size is planned in; anything else gets `USUAL_SECONDS`."""
USUAL_SECONDS = 30.0
SATURATED = 3.0


def main(arguments: Sequence[str] | None = None) -> int:
    """Plan, judge, write; 1 where a contestant failed or a plan broke a rule but the promises."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    asked = _parser().parse_args(given)
    command = shlex.join(["python", "-m", "tests.bench", *_shown(given)])
    rows: list[Row] = []
    failed = False
    try:
        make_folder(asked.out)
        path = asked.out / "rows.csv"
        if asked.keep and path.exists():
            rows = read_rows(path)
        for number, case in enumerate(_cases(asked)):
            if number == 0 and OURS in asked.contestants:
                compile_first(case.memory_mb)
            for row in _on_one_network(case, asked.contestants, rows):
                rows = with_gaps([*rows, row])
                failed = failed or bool(row.broken) or row.ended.startswith(FAILED)
                print(news(row), file=sys.stderr, flush=True)
                write_results(asked.out, rows, command)
    except (PlatenError, ValueError) as error:
        print(error, file=sys.stderr)
        failed = True
    if rows:
        print(terminal(rows))
        print(f"\nrows.csv, table.md and index.html are in {asked.out}")
    return int(failed)


def _shown(given: Sequence[str]) -> list[str]:
    """The options as the reader may repeat them: where results went is left away."""
    return [
        word
        for before, word in zip(["", *given], given, strict=False)
        if "--out" not in (before, word) and not word.startswith("--out=")
    ]


def _cases(asked: argparse.Namespace) -> Iterator[Case]:
    """The networks, one after the other; each is made when its turn comes."""
    for name in asked.cases:
        for seed in range(asked.first_seed, asked.first_seed + asked.seeds):
            network, words = _network(name, seed, asked)
            seconds = asked.seconds or SECONDS.get(name, USUAL_SECONDS)
            yield Case(
                words, network, seed, seconds, asked.effort, asked.workers, asked.times,
                asked.draws, 1000 * asked.memory,
            )  # fmt: skip


def _network(name: str, seed: int, asked: argparse.Namespace) -> tuple[Network, str]:
    if name == DEMO:
        return demo_network(seed), name
    if name not in SIZES:
        return read_network(Path(name)), Path(name).stem
    size, load = SIZES[name], asked.load
    words = name if load == 1 else f"{name} at load {load:g}"
    if asked.saturated:
        size = replace(size, requests=round(size.requests * asked.saturated))
        load *= asked.saturated
        words = f"{name} saturated x{asked.saturated:g}"
    return generate(size, seed=seed, load=load), words


def _on_one_network(case: Case, names: Sequence[str], rows: Sequence[Row]) -> Iterator[Row]:
    """Ours first: the whole models get its lengths and, under an effort, everybody its seconds.

    Rows that are there already are not made again.
    """
    there = {row.contestant: row for row in rows if row.network == (case.name, case.seed)}
    lengths: dict[str, int] | None = None
    for name in CONTESTANTS:
        row = there.get(name)
        if row is None and name not in names:
            continue
        if row is None:
            row = contend(case, name, lengths)
            yield row
        if name == OURS and row.has_plan:
            lengths = json.loads(row.lengths)
            if case.effort is not None:
                case = replace(case, seconds=max(1.0, row.taken_s))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument(
        "cases", nargs="+", help=f"{', '.join(SIZES)}, {DEMO}, or a network file; small ones first"
    )
    parser.add_argument("--seeds", type=int, default=3, help="networks of each case (3)")
    parser.add_argument("--first-seed", type=int, default=1, help="the first one's seed (1)")
    parser.add_argument("--load", type=float, default=1.0, help="of the named sizes (1.0)")
    parser.add_argument(
        "--saturated", type=float, nargs="?", const=SATURATED,
        help=f"so many times the requests for the same stations ({SATURATED:g})",
    )  # fmt: skip
    budget = parser.add_mutually_exclusive_group()
    budget.add_argument("--seconds", type=float, help="for each plan; as long as its size is given")
    budget.add_argument("--effort", type=int, help="ours repeats exactly; rivals get its seconds")
    parser.add_argument(
        "--times", type=float, default=1.0,
        help="the whole models and PyJobShop get so many times the seconds (1)",
    )  # fmt: skip
    parser.add_argument("--workers", type=int, default=1, help="processes or threads each (1)")
    parser.add_argument(
        "--contestants", nargs="+", choices=CONTESTANTS, default=list(CONTESTANTS),
        metavar="NAME", help=f"of {', '.join(CONTESTANTS)} (all)",
    )  # fmt: skip
    parser.add_argument("--draws", type=int, default=10_000, help="draws of the judge (10000)")
    parser.add_argument("--memory", type=float, default=8.0, help="GB for each contestant (8)")
    parser.add_argument("--out", type=Path, default=OUT, help=f"folder of the results ({OUT})")
    parser.add_argument("--keep", action="store_true", help="go on from the rows that are there")
    return parser


if __name__ == "__main__":
    sys.exit(main())
