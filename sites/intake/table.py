"""A file of candidates as a table of texts, whatever it was written with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sites.errors import BadValue

MOST_BYTES = 15 * 1024 * 1024
MOST_ROWS = 50_000
MOST_COLUMNS = 60
MOST_SIGNS = 32_767
"""Signs in a cell: what spreadsheets themselves hold at most."""

COMMENT = "#"
"""Lines before the head that begin with it explain the columns, as in our own template."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row with its number in the file, as a spreadsheet counts (the first row is 1)."""

    number: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """The head and the rows that hold anything; every row has as many cells as the head.

    ``read_as`` says how the file was read, for a person to judge. ``kind`` is "csv" or "xlsx",
    ``delimiter`` is empty for a workbook.
    """

    kind: str
    read_as: str
    delimiter: str
    head: tuple[str, ...]
    rows: tuple[Row, ...]


def make_table(kind: str, read_as: str, delimiter: str, lines: Iterable[list[str]]) -> Table:
    """A table of the lines of a file.

    Raises
    ------
    BadValue
        Where there is no head or no row, or more rows, columns or signs than anybody's list has.
    """
    numbered = _filled(lines)
    head: list[str] = []
    for number, cells in numbered:
        if not cells[0].startswith(COMMENT):
            head = _trimmed(cells)
            _require_width(number, head)
            break
    if not head:
        raise BadValue("the file", "holds no row", "give a file with column names in its first row")
    rows = []
    for number, cells in numbered:
        if any(cells[len(head) :]):
            head += [""] * (len(_trimmed(cells)) - len(head))
            _require_width(number, head)
        rows.append((number, cells))
        if len(rows) > MOST_ROWS:
            raise BadValue(
                "the file", f"holds more than {MOST_ROWS:,} rows", "split it and give the parts"
            )
    if not rows:
        raise BadValue(
            "the file", "holds column names and no row below them", "add a row for each candidate"
        )
    width = len(head)
    return Table(
        kind,
        read_as,
        delimiter,
        tuple(head),
        tuple(Row(number, tuple((cells + [""] * width)[:width])) for number, cells in rows),
    )


def _filled(lines: Iterable[list[str]]) -> Iterator[tuple[int, list[str]]]:
    """Rows that hold anything, stripped, with their numbers."""
    for number, line in enumerate(lines, start=1):
        cells = [cell.strip() for cell in line]
        if not any(cells):
            continue
        for column, cell in enumerate(cells, start=1):
            if len(cell) > MOST_SIGNS:
                raise BadValue(
                    f"row {number}, column {column}",
                    f"holds {len(cell):,} signs, more than a spreadsheet can",
                    "look for a quotation mark that is never closed, or shorten it",
                )
            if "\0" in cell:
                raise BadValue(
                    f"row {number}, column {column}",
                    "holds signs that no text has",
                    "save the list as CSV or XLSX and give that file",
                )
        yield number, cells


def _trimmed(cells: list[str]) -> list[str]:
    """Without empty cells at the end."""
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def _require_width(number: int, head: list[str]) -> None:
    if len(head) > MOST_COLUMNS:
        raise BadValue(
            f"row {number}",
            f"has {len(head)} columns; {MOST_COLUMNS} are the most",
            "take away the columns that are not needed",
        )
