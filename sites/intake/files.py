"""What a file is, and a CSV file as a table: encoding and separator are found, or chosen."""

from __future__ import annotations

import codecs
import csv
import io
from collections import Counter

from sites.errors import BadValue
from sites.intake.table import MOST_BYTES, MOST_SIGNS, Table, make_table
from sites.intake.workbook import is_workbook, read_workbook

ENCODINGS = {"utf-8": "UTF-8", "cp1252": "Windows-1252"}
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
ENOUGH = 50
"""Lines that the separator is judged by."""
OTHERS = (
    (b"\xd0\xcf\x11\xe0", "an older or a password-protected workbook"),
    (b"%PDF", "a PDF document"),
    (b"{\\rtf", "a text document"),
)


def read_table(data: bytes, *, encoding: str = "", delimiter: str = "") -> Table:
    """A CSV or XLSX file as a table.

    ``encoding`` ("utf-8", "cp1252") and ``delimiter`` (",", ";", tab) are found out where empty;
    a byte order mark always counts. Workbooks need neither.

    Raises
    ------
    BadValue
        Where it is no such file, or larger than a list of candidates can be.
    """
    if not data:
        raise BadValue("the file", "is empty", "choose the file again")
    if len(data) > MOST_BYTES:
        raise BadValue(
            "the file",
            f"is larger than {MOST_BYTES // 1024**2} MB",
            "split it, or take away what is no list of candidates",
        )
    for start, words in OTHERS:
        if data.startswith(start):
            raise BadValue("the file", f"is {words}", "save the list as CSV or XLSX")
    if is_workbook(data):
        return read_workbook(data)
    text, named = decoded(data, encoding)
    sign = delimiter or separator(text)
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=sign)
    csv.field_size_limit(MOST_SIGNS + 1)
    try:
        return make_table("csv", f"{named}, separated by {DELIMITERS[sign]}", sign, lines)
    except csv.Error as error:
        raise BadValue(
            f"line {lines.line_num}",
            f"cannot be read ({error})",
            "look for a quotation mark that is never closed",
        ) from None


def decoded(data: bytes, encoding: str = "") -> tuple[str, str]:
    """The text of a file and the name of its encoding."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        tries = ["utf-16"]
    elif data.startswith(codecs.BOM_UTF8):
        tries = ["utf-8-sig"]
    else:
        tries = [encoding] if encoding else list(ENCODINGS)
    for each in tries:
        try:
            return data.decode(each), ENCODINGS.get(each, each.removesuffix("-sig").upper())
        except UnicodeDecodeError as error:
            line, at = data.count(b"\n", 0, error.start) + 1, error
    raise BadValue(
        f"line {line}",
        f"holds a byte ({data[at.start]:#04x}) that {ENCODINGS.get(tries[-1], tries[-1])} has not",
        "save the file as UTF-8 and give it again",
    )


def separator(text: str) -> str:
    """The separator under which most of the first lines have the same number of columns.

    A comma where there is one column only.
    """
    head = "\n".join(text[:200_000].splitlines()[:ENOUGH])
    best, most = ",", (0.0, 1)
    for sign in DELIMITERS:
        try:
            rows = csv.reader(io.StringIO(head), delimiter=sign)
            widths = Counter(len(row) for row in rows if len(row) > 1)
        except csv.Error:
            continue
        if widths:
            width, times = widths.most_common(1)[0]
            most, best = max((most, best), ((float(times), width), sign))
    return best
