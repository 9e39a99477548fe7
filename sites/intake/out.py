"""Tables as files that a spreadsheet opens without running anything in them."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.worksheet._write_only import WriteOnlyWorksheet

from sites.intake.cells import SIGNS_BEFORE
from sites.intake.columns import COLUMNS

CSV_TYPE = "text/csv; charset=utf-8"
XLSX_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MARK = "\ufeff"
"""Byte order mark: spreadsheets then read the file as UTF-8."""


def guarded(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula.

    OWASP, "CSV Injection". Reading a list takes the apostrophe away again.
    """
    return f"'{text}" if text[:1] and text[0] in SIGNS_BEFORE else text


def csv_lines(rows: Iterable[Sequence[str | int | float]], delimiter: str = ",") -> Iterator[str]:
    """CSV (RFC 4180) a row at a time, in UTF-8 with a mark; no text is a formula."""
    yield MARK
    for row in rows:
        line = io.StringIO()
        cells = [guarded(cell) if isinstance(cell, str) else cell for cell in row]
        csv.writer(line, delimiter=delimiter).writerow(cells)
        yield line.getvalue()


def workbook(sheets: Iterable[tuple[str, Iterable[Sequence[str]]]]) -> bytes:
    """An XLSX file of named sheets; every cell is a text, none a formula."""
    book = Workbook(write_only=True)
    for title, rows in sheets:
        sheet = book.create_sheet(title)
        sheet.freeze_panes = "A2"
        for row in rows:
            sheet.append([text_cell(sheet, cell) for cell in row])
    target = io.BytesIO()
    book.save(target)
    return target.getvalue()


def text_cell(sheet: WriteOnlyWorksheet, text: str) -> WriteOnlyCell:
    """A cell that holds a text, whatever it begins with, without signs that XML has not."""
    cell = WriteOnlyCell(sheet, value="")
    cell.value = ILLEGAL_CHARACTERS_RE.sub(" ", text)
    cell.data_type = "s"
    return cell


HEAD = [column.words for column in COLUMNS]
SHEET = "candidates"
EXPLAINED = "what each column takes"


def template_csv() -> Iterator[str]:
    """A list to fill in: lines that explain the columns, then the head."""
    lines = [[f"# {each.words}: {each.takes} Example: {each.example}"] for each in COLUMNS]
    first = ["# Lines that begin with # explain the columns. Write candidates below the head."]
    return csv_lines([first, *lines, HEAD])


def template_xlsx() -> bytes:
    """The same as a workbook: an empty list, and a sheet that explains the columns."""
    words = [["column", "what it takes", "example"]]
    words += [[each.words, each.takes, each.example] for each in COLUMNS]
    return workbook([(SHEET, [HEAD]), (EXPLAINED, words)])
