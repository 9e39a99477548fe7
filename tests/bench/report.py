"""``python -m tests.bench.report rows.csv ...``: rows of several runs as one table and one page.

Where two files have the same contestant on the same network, the later file's row counts.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from planner.engine.errors import PlatenError
from planner.gateway.board import make_folder
from planner.gateway.files import write_whole
from tests.bench.page import page
from tests.bench.rows import Row, read_rows, with_gaps, write_rows
from tests.bench.table import markdown

OUT = Path("out/bench")


def write_results(folder: Path, rows: Sequence[Row], command: str) -> None:
    """The rows, the README's table and the page, each replaced whole."""
    write_rows(folder / "rows.csv", rows)
    write_whole(folder / "table.md", markdown(rows, command).encode())
    write_whole(folder / "index.html", page(rows, command).encode())


def main(arguments: Sequence[str] | None = None) -> int:
    """Read, join, write; 1 where a file cannot be read."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.report", description=__doc__)
    parser.add_argument("rows", type=Path, nargs="+", help="CSV files of tests.bench")
    parser.add_argument("--command", default="python -m tests.bench", help="what made the rows")
    parser.add_argument("--out", type=Path, default=OUT, help=f"folder of the results ({OUT})")
    asked = parser.parse_args(arguments)
    found: dict[tuple[str, int, str], Row] = {}
    try:
        for path in asked.rows:
            found |= {(*row.network, row.contestant): row for row in read_rows(path)}
        make_folder(asked.out)
        write_results(asked.out, with_gaps(found.values()), asked.command)
    except (OSError, PlatenError, ValueError) as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
