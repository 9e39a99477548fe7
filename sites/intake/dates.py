"""Dates as people write them. Which part is the day is never guessed."""

from __future__ import annotations

import re
from calendar import month_name
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[ T]00:00(?::00)?)?")
PARTS = re.compile(r"(\d{1,2})[./\- ](\d{1,2})[./\- ](\d{4}|\d{2})\.?")
WORDS = re.compile(
    r"(\d{1,2})\.? ([A-Za-z]{3,9})\.?,? (\d{4})|([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})"
)
MONTHS = tuple(name.casefold() for name in month_name if name)
ORDERS = {"dmy": "day, month, year", "mdy": "month, day, year"}
FIRST, LAST = date(2000, 1, 1), date(2100, 12, 31)


class NotADate(ValueError):
    """What is wrong with a text that should be a date; ``remedy`` says what to write."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem, self.remedy = problem, remedy
        super().__init__(problem)


def read_date(text: str, order: str = "") -> date:
    """A date of year-month-day, of numbers in an ``order`` ("dmy", "mdy"), or with its month named.

    Raises
    ------
    NotADate
        Where it is none, where its year has two digits, or where its order was not said.
    """
    if found := ISO.fullmatch(text):
        year, month, day = (int(part) for part in found.groups())
    elif found := PARTS.fullmatch(text):
        if len(found[3]) == 2:
            raise NotADate("has a year of two digits", "write the year with four")
        if order not in ORDERS:
            raise NotADate("can be read in two ways", "say above in which order dates are written")
        first, second, year = (int(part) for part in found.groups())
        day, month = (first, second) if order == "dmy" else (second, first)
    elif found := WORDS.fullmatch(text):
        day, year = int(found[1] or found[5]), int(found[3] or found[6])
        month = month_of(found[2] or found[4])
    else:
        raise NotADate("is no date", "write year-month-day, such as 2027-03-09")
    try:
        value = date(year, month, day)
    except ValueError:
        raise NotADate("is no day of the calendar", "correct day and month") from None
    if not FIRST <= value <= LAST:
        raise NotADate("is too far away to be meant", f"write a year from {FIRST.year} on")
    return value


def month_of(name: str) -> int:
    """The number of a month by three or more letters of its English name, 0 where it is none."""
    low = name.casefold()
    return next((number for number, month in enumerate(MONTHS, 1) if month.startswith(low)), 0)


@dataclass(frozen=True, slots=True)
class Written:
    """Dates of which only the order says what they mean: how many, and which order each allows.

    ``example`` is one that both orders allow (else any of them).
    """

    count: int
    dmy: int
    mdy: int
    example: str

    def readings(self) -> dict[str, str]:
        """The example under each order, in ISO 8601; "" where it is no date."""
        return {order: _iso(self.example, order) for order in ORDERS}


def as_written(cells: Iterable[str]) -> Written | None:
    """What the order of day and month matters for among these cells; None where it does not."""
    count = dmy = mdy = 0
    example = open_example = ""
    for cell in cells:
        for text in re.findall(r"(?<![\d-])\d{1,2}[./\- ]\d{1,2}[./\- ]\d{4}(?!\d)", cell):
            count += 1
            day_first, month_first = bool(_iso(text, "dmy")), bool(_iso(text, "mdy"))
            dmy, mdy = dmy + day_first, mdy + month_first
            example = example or text
            if day_first and month_first and _iso(text, "dmy") != _iso(text, "mdy"):
                open_example = open_example or text
    return Written(count, dmy, mdy, open_example or example) if count else None


def _iso(text: str, order: str) -> str:
    try:
        return read_date(text, order).isoformat()
    except NotADate:
        return ""
