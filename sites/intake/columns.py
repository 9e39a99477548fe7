"""The columns that a list of candidates can have, and how heads are matched with them."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """A column: ``key`` in code, ``words`` as its head; ``takes`` says what its cells hold."""

    key: str
    words: str
    takes: str
    example: str
    also: tuple[str, ...] = ()
    personal: bool = False


COLUMNS = (
    Column(
        "reference",
        "reference",
        "Needed. The programme's own reference of the request, up to 64 signs; the same reference "
        "is never taken in twice for one programme.",
        "A-2041",
        ("request", "request reference", "request number", "external reference", "case", "case no"),
    ),
    Column(
        "programme",
        "programme",
        "Code or name of the programme. May be left out where one is chosen for the whole file.",
        "teachers",
        ("program", "scheme", "programme code"),
    ),
    Column(
        "subject",
        "person reference",
        "The programme's own reference of the person, up to 64 signs; with it, several requests of "
        "one person belong together. Never an identity number.",
        "P-310",
        ("subject", "subject reference", "candidate", "candidate reference", "person"),
    ),
    Column(
        "given_name",
        "given name",
        "Given names, up to 120 signs.",
        "Ilmi",
        ("first name", "forename", "given names"),
        personal=True,
    ),
    Column(
        "family_name",
        "family name",
        "Family name, up to 120 signs.",
        "Tavoren",
        ("last name", "surname", "family names"),
        personal=True,
    ),
    Column(
        "name",
        "name (family, given)",
        "Both names in one cell: family name, comma, given names. Instead of the two columns.",
        "Tavoren, Ilmi",
        ("name", "full name", "candidate name", "subject name"),
        personal=True,
    ),
    Column(
        "phone",
        "phone",
        "Phone number, 6 to 15 digits, best with + and the country code.",
        "+00 555 0142",
        ("telephone", "mobile", "phone number", "tel", "cell phone", "contact phone"),
        personal=True,
    ),
    Column(
        "email",
        "mail",
        "Mail address.",
        "i.tavoren@example.org",
        ("email", "e-mail", "mail address", "email address", "contact mail"),
        personal=True,
    ),
    Column(
        "language",
        "language",
        "Language of the notices, as a BCP 47 tag.",
        "en",
        ("preferred language", "lang"),
        personal=True,
    ),
    Column(
        "received",
        "received",
        "Date on which the request was received. Empty: the day chosen for the whole file.",
        "2027-03-01",
        ("received on", "date received", "request date"),
    ),
    Column(
        "release",
        "release",
        "First date on which the person can be booked. Empty: the date it was received.",
        "2027-03-03",
        ("release date", "not before", "from", "earliest"),
    ),
    Column(
        "due",
        "due",
        "Date by which an accepted set is needed. Empty: worked out by the programme's rule.",
        "2027-03-22",
        ("due date", "deadline", "needed by", "latest", "due by"),
    ),
    Column(
        "sites",
        "sites",
        "Codes or names of sites that can take them, with ; between. Empty: all that you see.",
        "north; harbour",
        ("site", "place", "places", "location", "locations"),
    ),
    Column(
        "profile",
        "kind of session",
        "Code or name of the kind of session. May be left out where one is chosen for the whole "
        "file.",
        "full",
        ("kind", "profile", "session", "session kind", "capture kind"),
    ),
    Column(
        "needs",
        "needs",
        "What the person needs, with ; between: access, longer, or codes of station features and "
        "technician skills. The need, never its reason.",
        "access; longer",
        ("need", "requirements"),
        personal=True,
    ),
    Column(
        "times",
        "can come",
        "Dates, each with or without a time span, with ; between. Empty: any time.",
        "2027-03-08 09:00-12:00; 2027-03-09",
        ("availability", "available", "times", "days", "can come on"),
        personal=True,
    ),
    Column(
        "area",
        "home area",
        "Code or name of the area that the person travels from, never an address.",
        "east",
        ("area", "travels from"),
        personal=True,
    ),
    Column(
        "priority",
        "priority",
        "Weight beside other requests, a number above 0 up to 100. Empty: 1.",
        "2",
        ("weight", "urgency"),
    ),
)
BY_KEY = {column.key: column for column in COLUMNS}
DATES = ("received", "release", "due", "times")
PROBLEM = "problem"
"""Head of the column that a download adds; a file that comes back with it is read without it."""


def folded(text: str) -> str:
    """A word without case, marks, spaces and signs, for comparing."""
    plain = unicodedata.normalize("NFKD", text).casefold()
    return "".join(sign for sign in plain if sign.isalnum())


NAMES = {
    folded(name): column.key
    for column in COLUMNS
    for name in (column.key, column.words, *column.also)
}


def matched(head: Iterable[str]) -> list[str]:
    """The key for each head, "" where it is none of ours; the first of two equal ones counts."""
    found: list[str] = []
    for words in head:
        key = NAMES.get(folded(words), "")
        found.append("" if key in found else key)
    return found
