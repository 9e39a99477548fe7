"""``manage.py sessions``: how long each kind of session takes."""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.engine.sessions.report import SessionRow, session_rows
from planner.gateway.charts import lengths_svg
from planner.gateway.files import read_network, write_whole
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from argparse import ArgumentParser

_HEAD = (
    "profile",
    "mean min",
    "sd min",
    "q50 min",
    "q90 min",
    "q95 min",
    "mean booked min",
    "unmet %",
    "planned min",
)


class Command(PlatenCommand):
    """Print the length of each profile's sessions, as a table or as JSON."""

    help = "How long does each kind of session take, and how many minutes are planned for it?"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """One network file, and what to make of it."""
        parser.add_argument("network", type=Path, metavar="NETWORK", help="a network file")
        parser.add_argument("--json", action="store_true", help="print a JSON list, not a table")
        parser.add_argument("--plot", type=Path, metavar="FILE.svg", help="write a chart as well")

    def run(self, **options: Any) -> int:
        """Read, compute, print."""
        network = read_network(options["network"])
        rows = session_rows(network)
        if options["plot"]:
            write_whole(options["plot"], lengths_svg(network))
        if options["json"]:
            self.stdout.write(json.dumps([asdict(row) for row in rows], indent=2))
        else:
            self.stdout.write("\n".join(table(rows)))
        return 0


def table(rows: list[SessionRow]) -> list[str]:
    """The rows as aligned text: names at the left, numbers at the right, units in the head."""
    cells = [_HEAD, *(_cells(row) for row in rows)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(_HEAD))]
    return [
        "  ".join(
            [row[0].ljust(widths[0])]
            + [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        )
        for row in cells
    ]


def _cells(row: SessionRow) -> tuple[str, ...]:
    minutes = (row.mean, row.sd, row.q50, row.q90, row.q95, row.mean_booked)
    return (
        row.profile,
        *(f"{value:.2f}" for value in minutes),
        f"{row.p_unmet:.2%}"[:-1],
        str(row.planned),
    )
