"""Measured rows as a table with ratios, and as CSV."""

from __future__ import annotations

import csv
from dataclasses import astuple, fields
from itertools import pairwise
from typing import TYPE_CHECKING

from tests.bench.scale_measure import Row

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_COLUMNS = (
    *("case", "requests", "sites", "station_days", "load", "density", "file_mb", "make_s"),
    *("write_s", "read_s", "plan_s", "check_s", "peak_mb", "booked", "unbooked", "broken"),
    *("cost", "bound", "gap"),
)
_RATIOS = ("requests", "make_s", "write_s", "read_s", "plan_s", "check_s", "peak_mb")
_DECIMALS = {"load": 2, "density": 1, "peak_mb": 0, "cost": 0, "bound": 0, "gap": 4}


def table_text(rows: Sequence[Row]) -> str:
    """The rows, then how each column grows from one row to the next.

    A time that grows more than ``requests`` does is worse than linear.
    """
    lines = [_COLUMNS, *(tuple(_shown(row, name) for name in _COLUMNS) for row in rows)]
    text = _aligned(lines)
    if len(rows) > 1:
        grown: list[tuple[str, ...]] = [("growth", *_RATIOS)]
        for before, after in pairwise(rows):
            ratios = (_ratio(getattr(before, n), getattr(after, n)) for n in _RATIOS)
            grown.append((f"{before.case} to {after.case}", *ratios))
        text += "\n\n" + _aligned(grown)
    return text


def write_csv(path: Path, rows: Sequence[Row]) -> None:
    """All fields of the rows, unrounded, under their names; nothing where a value is missing."""
    with path.open("w", newline="", encoding="utf-8") as out:
        writer = csv.writer(out)
        writer.writerow([field.name for field in fields(Row)])
        writer.writerows(astuple(row) for row in rows)


def _shown(row: Row, name: str) -> str:
    value = getattr(row, name)
    if value is None:
        return "none"
    return f"{value:.{_DECIMALS.get(name, 2)}f}" if isinstance(value, float) else str(value)


def _ratio(before: float | None, after: float | None) -> str:
    if before is None or after is None or before <= 0:
        return "none"
    return f"x{after / before:.1f}"


def _aligned(lines: Sequence[tuple[str, ...]]) -> str:
    widths = [max(len(cell) for cell in column) for column in zip(*lines, strict=True)]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if at == 0 else cell.rjust(width)
            for at, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )
