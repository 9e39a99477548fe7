"""Files become tables whatever they were written with, and what is no list is refused by name."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date, datetime, time
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

from sites.errors import BadValue
from sites.intake import table, workbook
from sites.intake.files import read_table, separator
from sites.intake.out import csv_lines, guarded, template_csv, template_xlsx
from sites.intake.out import workbook as write_workbook

TEXT = "reference,given name\nA-1,Zoë\nA-2,Łucja\n"


def book(*rows: list[Any], **sheets: list[list[Any]]) -> bytes:
    """A workbook of openpyxl's own: a sheet of rows, and more by name."""
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    for name, content in sheets.items():
        other = made.create_sheet(name)
        for row in content:
            other.append(row)
    target = io.BytesIO()
    made.save(target)
    return target.getvalue()


def refusal(data: bytes, **choices: str) -> str:
    """Why a file is refused."""
    with pytest.raises(BadValue) as caught:
        read_table(data, **choices)
    return str(caught.value)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_unicode_files_keep_every_sign(encoding: str) -> None:
    found = read_table(TEXT.encode(encoding))
    assert [row.cells for row in found.rows] == [("A-1", "Zoë"), ("A-2", "Łucja")]
    assert found.head == ("reference", "given name")


def test_a_file_that_is_no_utf_8_is_read_as_windows_1252_and_says_so() -> None:
    """Code points 0x80 to 0x9f are as in the WHATWG Encoding Standard's index (recalled)."""
    found = read_table("reference,name\nA-1,Žofie – Müller\n".encode("cp1252"))
    assert found.rows[0].cells == ("A-1", "Žofie – Müller")
    assert found.read_as.startswith("Windows-1252")


def test_an_encoding_that_was_chosen_is_used_or_refused() -> None:
    assert read_table("a\nZoë\n".encode(), encoding="cp1252").rows[0].cells == ("ZoÃ«",)
    assert "line 2" in refusal("a\nZoë\n".encode("cp1252"), encoding="utf-8")
    assert "save the file as UTF-8" in refusal(b"a\n\x81\n")


@pytest.mark.parametrize("sign", [",", ";", "\t"])
def test_the_separator_is_found(sign: str) -> None:
    text = io.StringIO()
    rows = [["reference", "note"], ["1", "a; b, c"], ["2", "d\te; f"], ["3", ""]]
    csv.writer(text, delimiter=sign).writerows(rows)
    assert separator(text.getvalue()) == sign
    assert [list(row.cells) for row in read_table(text.getvalue().encode()).rows] == rows[1:]


def test_rows_are_numbered_as_a_spreadsheet_does_and_empty_ones_are_left_out() -> None:
    found = read_table(b"\n# a word\nreference\n\nA-1\n , \nA-2\n", delimiter=",")
    assert [(row.number, row.cells[0]) for row in found.rows] == [(5, "A-1"), (7, "A-2")]


def test_a_row_longer_than_the_head_makes_a_column_without_a_name() -> None:
    found = read_table(b"reference,due\nA-1,2027-03-01,loose\nA-2\n")
    assert found.head == ("reference", "due", "")
    assert [row.cells for row in found.rows] == [("A-1", "2027-03-01", "loose"), ("A-2", "", "")]


def test_a_workbook_gives_dates_in_iso_and_numbers_as_typed() -> None:
    cells = ["A-1", date(2027, 3, 1), datetime(2027, 3, 1, 9, 30), 12.0, 0.5, True, time(9), None]
    found = read_table(book(["reference", *"abcdefg"], cells))
    assert found.rows[0].cells == (
        "A-1", "2027-03-01", "2027-03-01 09:30", "12", "0.5", "yes", "09:00", "",
    )  # fmt: skip


def test_a_formula_comes_as_a_formula_and_never_as_an_old_value() -> None:
    found = read_table(book(["reference", "due"], ["A-1", "=TODAY()"]))
    assert found.rows[0].cells[1] == "=TODAY()"


def test_the_first_sheet_that_holds_anything_is_read() -> None:
    data = book(list=[["reference"], ["A-1"]], other=[["x"], ["y"]])
    found = read_table(data)
    assert (found.head, found.rows[0].cells) == (("reference",), ("A-1",))
    assert "“list”" in found.read_as


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "is empty"),
        (b"\n\n", "holds no row"),
        (b"reference\n", "no row below"),
        (b"%PDF-1.7", "PDF"),
        (b"\xd0\xcf\x11\xe0rest", "password-protected"),
        (b"PK\x03\x04rest", "broken archive"),
        (b"reference\nA\0B\n", "no text has"),
        (b'reference\n"' + b"x" * 40_000, "never closed"),
        (",".join("abcdefg" * 10).encode() + b"\n1\n", "60 are the most"),
        (b"x" * (table.MOST_BYTES + 1), "larger than 15 MB"),
    ],
)
def test_what_is_no_list_is_refused_with_a_remedy(data: bytes, words: str) -> None:
    assert words in refusal(data)


def test_too_many_rows_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = b"reference\n" + b"".join(b"A-%d\n" % n for n in range(table.MOST_ROWS + 1))
    assert "more than 50,000 rows" in refusal(lines)


def test_an_archive_that_unpacks_to_far_more_is_refused_before_it_is_unpacked() -> None:
    """A million zeros to a kilobyte: the ratio of Deflate ends near 1030 : 1 (RFC 1951)."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for number in range(5):
            archive.writestr(f"xl/{number}.xml", b"0" * 50_000_000)
    assert len(target.getvalue()) < 300_000
    assert "unpacks to 238 MB" in refusal(target.getvalue())
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b"0" * 20_000_000)
    assert "unpacks to 19 MB" in refusal(target.getvalue())
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        for number in range(workbook.MOST_PARTS + 1):
            archive.writestr(f"{number}", b"")
    assert "501 parts" in refusal(target.getvalue())


def test_an_archive_that_is_no_workbook_is_refused() -> None:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w") as archive:
        archive.writestr("note.txt", "hello")
    assert "cannot be read as a workbook" in refusal(target.getvalue())


def test_a_sheet_with_one_cell_far_below_is_read_or_refused_not_walked_for_ever() -> None:
    made = Workbook()
    sheet = made.active
    assert sheet is not None
    sheet["A1"], sheet["A2"], sheet["A1048576"] = "reference", "A-1", "A-2"
    target = io.BytesIO()
    made.save(target)
    assert "goes on after row 200,000" in refusal(target.getvalue())


@given(st.binary(max_size=300))
def test_any_bytes_are_a_table_or_a_refusal(data: bytes) -> None:
    for start in (b"", b"PK\x03\x04"):
        try:
            found = read_table(start + data)
        except BadValue:
            continue
        assert all(len(row.cells) == len(found.head) for row in found.rows)


PLAIN = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=20)


@given(st.lists(st.tuples(PLAIN, PLAIN), min_size=1, max_size=5), st.sampled_from([",", ";", "\t"]))
def test_what_is_written_as_csv_comes_back_and_no_cell_is_a_formula(
    rows: list[tuple[str, str]], sign: str
) -> None:
    """OWASP, CSV Injection: no cell may begin with = + - @ tab or carriage return."""
    lines = "".join(csv_lines([("reference", "note"), *rows], sign))
    read = list(csv.reader(io.StringIO(lines.removeprefix("\ufeff"), newline=""), delimiter=sign))
    assert all(
        not cell.startswith(("=", "+", "-", "@", "\t", "\r")) for row in read for cell in row
    )
    assert [[cell.removeprefix("'") for cell in row] for row in read[1:]] == [
        [cell.removeprefix("'") for cell in row] for row in rows
    ]


def test_a_workbook_that_is_written_holds_texts_only() -> None:
    data = write_workbook([("list", [["reference"], ["=1+1"], ["a\x01b"]])])
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        sheet = archive.read("xl/worksheets/sheet1.xml").decode()
    assert "<f>" not in sheet
    assert [row.cells[0] for row in read_table(data).rows] == ["=1+1", "a b"]


def test_the_templates_are_read_as_lists_with_our_columns() -> None:
    filled = "".join(template_csv()) + "A-1,one\n"
    found = read_table(filled.encode())
    assert found.head[:2] == ("reference", "programme")
    assert found.rows[0].cells[:2] == ("A-1", "one")
    with pytest.raises(BadValue, match="no row below"):
        read_table(template_xlsx())


def test_an_apostrophe_stands_before_what_a_spreadsheet_would_run() -> None:
    assert [guarded(text) for text in ("=1", "+43", "-x", "@a", "a=1", "")] == [
        "'=1", "'+43", "'-x", "'@a", "a=1", "",
    ]  # fmt: skip
