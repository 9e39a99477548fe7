"""One cell: its text as a value, or what is wrong with it and what to write instead."""

from __future__ import annotations

import re
from datetime import date

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from sites.intake.columns import folded
from sites.intake.dates import NotADate, read_date
from sites.intake.known import Fault, Names

MOST_DIGITS, LEAST_DIGITS = 15, 6  # ITU-T E.164: at most 15; at least 6 is ours
TAG = re.compile(r"[A-Za-z]{2,3}(?:-[A-Za-z0-9]{2,8})*")  # the usual forms of BCP 47
SPAN = re.compile(r"(.+?)[ ,]+(\d{1,2})[:.](\d{2}) ?[-–] ?(\d{1,2})[:.](\d{2})")
SPLIT = re.compile(r"[;|\n]+")
BROKEN = re.compile(r"#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NUM!|NULL!)")
SIGNS_BEFORE = "=+-@\t\r"
"""Signs with which a spreadsheet takes a text for a formula; an apostrophe before them helps."""
DAY = 24 * 60
MOST_TIMES = 100


class Cells:
    """The cells of a row by column, and the faults found in them so far."""

    def __init__(self, values: dict[str, str], order: str = "") -> None:
        self.order = order
        self.faults: list[Fault] = []
        self.values = {key: self.plain(key, text) for key, text in values.items()}

    def plain(self, column: str, text: str) -> str:
        """The text; a formula or a spreadsheet's error is a fault and counts as empty."""
        text = text.strip()
        if len(text) > 1 and text[0] == "'" and text[1] in SIGNS_BEFORE:
            text = text[1:]
        if text.startswith(("=", "@")):
            return self.fault(column, "is a formula", "write the value itself")
        if BROKEN.fullmatch(text):
            return self.fault(column, "is an error of the spreadsheet", "correct its formula")
        if any(ord(sign) < 32 and sign not in "\n\t" for sign in text):
            return self.fault(column, "holds signs that no text has", "type it anew")
        return text

    def fault(self, column: str, problem: str, remedy: str) -> str:
        """Keep a fault; the cell counts as empty from here on."""
        self.faults.append(Fault(column, problem, remedy))
        return ""

    def text(self, column: str, most: int, *, needed: bool = False) -> str:
        """A text of at most so many signs on one line."""
        value = " ".join(self.values.get(column, "").split())
        if len(value) > most:
            return self.fault(column, f"is longer than {most} signs", "write a shorter one")
        if needed and not value and not self.blamed(column):
            return self.fault(column, "is empty", "every row needs one")
        return value

    def name(self, column: str) -> str:
        """A name: any signs, but a letter among them."""
        value = self.text(column, 120)
        if value and not any(sign.isalpha() for sign in value):
            return self.fault(column, "is no name", "check that the columns are not swapped")
        return value

    def phone(self) -> str:
        """A phone number with 6 to 15 digits (ITU-T E.164), as it was written."""
        value = self.text("phone", 40)
        digits = re.sub(r"[\s()./\-–]", "", value)
        if value and not re.fullmatch(rf"\+?\d{{{LEAST_DIGITS},{MOST_DIGITS}}}", digits):
            return self.fault(
                "phone", "is no phone number", "write one number, best with + and country code"
            )
        return value

    def email(self) -> str:
        """A mail address."""
        value = self.text("email", 254)
        try:
            if value:
                validate_email(value)
        except ValidationError:
            return self.fault("email", "is no mail address", "write one address, name@place")
        return value

    def language(self) -> str:
        """A BCP 47 tag."""
        value = self.text("language", 16)
        if value and not TAG.fullmatch(value):
            return self.fault("language", "is no language tag", "write a tag such as en or pt-BR")
        return value

    def day(self, column: str) -> date | None:
        """A date, None where the cell is empty or none."""
        value = self.text(column, 40)
        try:
            return read_date(value, self.order) if value else None
        except NotADate as error:
            self.fault(column, error.problem, error.remedy)
            return None

    def number(self, column: str, most: float) -> float:
        """A number above 0, 1 where the cell is empty; a comma counts as the point."""
        value = self.text(column, 20)
        if not value:
            return 1.0
        if re.fullmatch(r"\d{1,6}(?:[.,]\d{1,6})?", value):
            number = float(value.replace(",", "."))
            if 0 < number <= most:
                return number
        self.fault(column, f"is no number above 0 up to {most:g}", "correct it or leave it empty")
        return 1.0

    def one_of(self, column: str, names: Names, what: str) -> int | None:
        """The key of a code or name."""
        value = self.text(column, 200)
        return self.known(column, value, names, what) if value else None

    def many_of(self, column: str, names: Names, what: str) -> tuple[int, ...]:
        """The keys of codes or names with ; between, each once."""
        found = (self.known(column, part, names, what) for part in self.parts(column))
        return tuple(dict.fromkeys(key for key in found if key is not None))

    def parts(self, column: str) -> list[str]:
        """What stands between ; or | or line ends."""
        parts = SPLIT.split(self.values.get(column, ""))
        return [word for part in parts if (word := " ".join(part.split()))]

    def known(self, column: str, value: str, names: Names, what: str) -> int | None:
        """The key of one code or name; a fault where it means none or more than one."""
        word = folded(value)
        if names.get(word) is None:
            if word in names:
                self.fault(column, f"is the name of more than one {what}", "write its code")
            else:
                self.fault(column, f"names a {what} that is not set up", f"write a {what}'s code")
            return None
        return names[word]

    def times(self) -> tuple[tuple[date, int, int], ...]:
        """Dates with or without a span, as (day, minute, minutes)."""
        found: dict[tuple[date, int], int] = {}
        parts = self.parts("times")
        if len(parts) > MOST_TIMES:
            self.fault("times", f"holds more than {MOST_TIMES} times", "name fewer")
            return ()
        for part in parts:
            span = SPAN.fullmatch(part)
            try:
                day = read_date(span[1] if span else part, self.order)
            except NotADate as error:
                self.fault("times", error.problem, error.remedy)
                return ()
            minute, minutes = 0, DAY
            if span:
                first, last = (60 * int(span[n]) + int(span[n + 1]) for n in (2, 4))
                minute, minutes = first, last - first
                if not 0 <= first < last <= DAY or int(span[3]) > 59 or int(span[5]) > 59:
                    self.fault("times", "has a span that is none", "write it as 09:00-12:00")
                    return ()
            found[day, minute] = max(minutes, found.get((day, minute), 0))
        return tuple((day, minute, found[day, minute]) for day, minute in sorted(found))

    def blamed(self, column: str) -> bool:
        """Whether a fault of a column was found already."""
        return any(fault.column == column for fault in self.faults)
