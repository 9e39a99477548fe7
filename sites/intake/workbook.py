"""An XLSX workbook as a table, without unpacking more than a list of candidates needs."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator
from datetime import datetime, time
from typing import Any

from openpyxl import load_workbook
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from sites.errors import BadValue
from sites.intake.table import MOST_COLUMNS, MOST_ROWS, Table, make_table

MOST_UNPACKED = 200 * 1024 * 1024
MOST_RATIO = 200
MOST_PARTS = 500
FAR = 4 * MOST_ROWS
"""Rows that are looked through; empty rows between others count."""


def is_workbook(data: bytes) -> bool:
    """Whether these are the bytes of a ZIP archive, which every XLSX file is."""
    return data.startswith(b"PK\x03\x04")


def read_workbook(data: bytes) -> Table:
    """The first visible sheet that holds anything.

    Formulas come as their text ("=A1"), never as a value: a value kept beside a formula may be
    an old one. Raises BadValue where the file is no workbook, or unpacks to far more than it is.
    """
    require_small(data)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=False, keep_links=False)
        for sheet in book.worksheets:
            if sheet.sheet_state == "visible" and not blank(sheet):
                words = f"workbook, sheet “{sheet.title}”"
                return make_table("xlsx", words, "", lines(sheet))
    except BadValue:
        raise
    except Exception as error:  # a broken part of a workbook fails anywhere in the reader
        raise BadValue(
            "the file",
            f"cannot be read as a workbook ({type(error).__name__})",
            "open it, save it again as XLSX or CSV, and give that file",
        ) from None
    raise BadValue("the workbook", "holds nothing", "give a file with a row for each candidate")


def require_small(data: bytes) -> None:
    """Refuse an archive that unpacks to more than a list can be, before unpacking it."""
    try:
        parts = zipfile.ZipFile(io.BytesIO(data)).infolist()
    except (zipfile.BadZipFile, OSError, ValueError):
        raise BadValue("the file", "is a broken archive", "save the list again") from None
    unpacked = sum(part.file_size for part in parts)
    packed = max(1, sum(part.compress_size for part in parts))
    if (
        unpacked > MOST_UNPACKED
        or len(parts) > MOST_PARTS
        or (unpacked > 10 * 1024 * 1024 and unpacked > MOST_RATIO * packed)
    ):
        raise BadValue(
            "the workbook",
            f"unpacks to {unpacked // 1024**2:,} MB in {len(parts):,} parts",
            "save only the list, as CSV or XLSX",
        )


def blank(sheet: ReadOnlyWorksheet) -> bool:
    """Whether the first rows of a sheet hold nothing."""
    rows = sheet.iter_rows(max_row=20, max_col=MOST_COLUMNS, values_only=True)
    return not any(any(cell is not None for cell in row) for row in rows)


def lines(sheet: ReadOnlyWorksheet) -> Iterator[list[str]]:
    """The rows of a sheet as texts."""
    sheet.reset_dimensions()  # what a file says of its size may be wrong
    for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS + 1, values_only=True)):
        if number > FAR:
            raise BadValue(
                "the sheet", f"goes on after row {FAR:,}", "delete the empty rows, or split it"
            )
        yield [text_of(cell) for cell in row]


def text_of(value: Any) -> str:
    """A cell as a person would type it: dates as ISO 8601, whole numbers without a point."""
    match value:
        case None:
            text = ""
        case bool():
            text = "yes" if value else "no"
        case float():
            text = str(int(value)) if value.is_integer() else repr(value)
        case datetime() if value.time() == time():
            text = value.date().isoformat()
        case datetime():
            text = value.isoformat(" ", "minutes")
        case time():
            text = value.isoformat("minutes")
        case _:
            text = str(getattr(value, "text", value))  # a formula of many cells carries its text
    return text
