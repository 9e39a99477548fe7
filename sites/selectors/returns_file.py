"""A file of responses, read row by row: what would be registered, what is known, what is wrong."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import QuerySet

from sites.clock import instant, wall
from sites.errors import BadValue
from sites.models import ResponseKind, Submission

COLUMNS = ("control number", "kind", "code", "date")
"""Their order does not matter; ``code`` may be missing or empty."""
NEEDED = ("control number", "kind", "date")
MOST_ROWS = 20_000
CHUNK = 400
NOON = 12 * 60
KINDS = {str(kind.value): kind for kind in ResponseKind}
SIGNS = ",;\t"


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the file as it would be registered; ``at`` is noon at the site of its day."""

    line: int
    submission: Submission
    kind: ResponseKind
    code: str
    day: date
    at: datetime


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong with one cell, and what to do about it."""

    line: int
    column: str
    value: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"line {self.line}, {self.column}, {self.value!r}: {self.problem}; {self.remedy}"


@dataclass(slots=True)
class Sheet:
    """A file that was read: rows to register, rows that the record has already, faults."""

    rows: list[Row] = field(default_factory=list)
    known: int = 0
    faults: list[RowFault] = field(default_factory=list)


def responses_read(*, data: bytes | str, now: datetime, submissions: QuerySet[Submission]) -> Sheet:
    """Read a file of responses (CSV; comma, semicolon or tab; UTF-8) against the record.

    Sets are looked for among ``submissions``. What the record has in the same words counts as
    known, so that a file can come twice. Raises BadValue where the whole file cannot be read.
    """
    found = Sheet()
    lines = list(cells(data))
    numbers = {given["control number"] for _, given in lines}
    sent = submissions_by_number(numbers, submissions)
    seen: dict[str, tuple[int, tuple[str, str]]] = {}
    for line, given in lines:
        number, kind, day = given["control number"], given["kind"].lower(), given["date"]
        before = seen.setdefault(number, (line, (kind, day)))
        if before[0] != line:
            if before[1] != (kind, day):
                words = f"stands in line {before[0]} with another answer"
                say(found, line, "control number", number, words, "leave the right one")
            continue
        row = row_of(found, line, given, sent.get(number), now)
        if row is None:
            continue
        answer = getattr(row.submission, "response", None)
        if answer is None:
            found.rows.append(row)
        elif (answer.kind, day_of(row.submission, answer.received_at)) == (row.kind, row.day):
            found.known += 1
        else:
            there = f"{answer.get_kind_display().lower()} on {answer.received_at:%Y-%m-%d}"
            say(
                found, line, "control number", number, f"has another response: {there}", "ask which"
            )
    return found


def cells(data: bytes | str) -> Iterator[tuple[int, dict[str, str]]]:
    """Line numbers and cells by column, without empty lines."""
    text = decoded(data) if isinstance(data, bytes) else data
    head = text.lstrip("\ufeff").split("\n", 1)[0]
    sign = max(SIGNS, key=head.count)
    reader = csv.reader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=sign)
    try:
        names = [" ".join(name.lower().replace("_", " ").split()) for name in next(reader, [])]
        missing = [name for name in NEEDED if name not in names]
        if missing:
            raise BadValue(
                "the first line",
                f"has no column {', '.join(missing)}",
                f"name the columns {', '.join(COLUMNS)}, in any order",
            )
        for count, values in enumerate(reader):
            if count >= MOST_ROWS:
                raise BadValue("the file", f"has more than {MOST_ROWS} lines", "split it")
            if any(value.strip() for value in values):
                given = dict(zip(names, (value.strip() for value in values), strict=False))
                yield reader.line_num, {name: given.get(name, "") for name in COLUMNS}
    except csv.Error as error:
        problem = f"cannot be read in line {reader.line_num}: {error}"
        raise BadValue("the file", problem, "save it as CSV again") from None


def decoded(data: bytes) -> str:
    """The text of a file."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise BadValue("the file", "is not UTF-8 text", "save it as CSV in UTF-8") from None


def submissions_by_number(
    numbers: Iterable[str], submissions: QuerySet[Submission]
) -> dict[str, Submission]:
    """Submissions with site and response, by control number, some hundreds a query."""
    wanted = sorted(numbers)
    found = {}
    for start in range(0, len(wanted), CHUNK):
        rows = submissions.filter(control_number__in=wanted[start : start + CHUNK])
        for row in rows.select_related(
            "response", "request__terms", "session__appointment__station__site"
        ):
            found[row.control_number] = row
    return found


def row_of(
    sheet: Sheet, line: int, given: dict[str, str], sent: Submission | None, now: datetime
) -> Row | None:
    """The row, or None with its faults said."""
    number, kind = given["control number"], KINDS.get(given["kind"].lower())
    before = len(sheet.faults)
    if sent is None:
        problem = "is empty" if not number else "is of no set that was sent on"
        say(sheet, line, "control number", number, problem, "check the number")
    if kind is None:
        remedy = f"write one of {', '.join(KINDS)}"
        say(sheet, line, "kind", given["kind"], "is no kind of response", remedy)
    if len(given["code"]) > 32:
        say(sheet, line, "code", given["code"][:40], "is longer than 32 signs", "shorten it")
    try:
        day = date.fromisoformat(given["date"])
    except ValueError:
        say(sheet, line, "date", given["date"], "is no date", "write it as 2027-03-09")
        return None
    if sent is None or kind is None or len(sheet.faults) > before:
        return None
    at = received_at(sent, day, now)
    if at is None:
        first, last = day_of(sent, sent.sent_at), day_of(sent, now)
        problem = f"is not from {first} (the set was sent on) to {last} (today)"
        say(sheet, line, "date", given["date"], problem, "check the date")
        return None
    return Row(line, sent, kind, given["code"], day, at)


def received_at(sent: Submission, day: date, now: datetime) -> datetime | None:
    """An instant on that day at the set's site, not before it was sent and not after now."""
    if not day_of(sent, sent.sent_at) <= day <= day_of(sent, now):
        return None
    zone = sent.session.appointment.station.site.timezone
    return min(max(instant(zone, day, NOON), sent.sent_at), max(now, sent.sent_at))


def day_of(sent: Submission, at: datetime) -> date:
    """The day at the site where the set was captured."""
    return wall(sent.session.appointment.station.site.timezone, at)[0]


def say(sheet: Sheet, line: int, column: str, value: str, problem: str, remedy: str) -> None:
    """Note a fault."""
    sheet.faults.append(RowFault(line, column, value, problem, remedy))


def one_response(
    *,
    number: str,
    kind: ResponseKind,
    code: str,
    day: date,
    now: datetime,
    submissions: QuerySet[Submission],
) -> Row | None:
    """One response as a row; None where the record has it. Raises BadValue with the first fault."""
    buffer = io.StringIO()
    csv.writer(buffer).writerows([COLUMNS, (number, kind.value, code, day.isoformat())])
    sheet = responses_read(data=buffer.getvalue(), now=now, submissions=submissions)
    if sheet.faults:
        fault = sheet.faults[0]
        raise BadValue(fault.value or fault.column, fault.problem, fault.remedy)
    return sheet.rows[0] if sheet.rows else None
