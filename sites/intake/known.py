"""What the cells of a list can refer to, and what a good row becomes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date

from sites.intake.columns import folded


@dataclass(frozen=True, slots=True)
class Terms:
    """A programme's version: its key, the day it starts on, and its day counts."""

    pk: int
    starts_on: date
    due_days: int
    validity_days: int


@dataclass(frozen=True, slots=True)
class Scheme:
    """A programme with its versions in order of their first days."""

    pk: int
    code: str
    terms: tuple[Terms, ...]

    def on(self, day: date) -> Terms | None:
        """The version in force on a day, None where none had begun."""
        begun = [each for each in self.terms if each.starts_on <= day]
        return begun[-1] if begun else None


Names = Mapping[str, int | None]
"""Keys by folded code and name; None where a name means more than one."""


def by_name(rows: Iterable[tuple[int, str, str]]) -> dict[str, int | None]:
    """`Names` of (key, code, name); a code always means its own."""
    every = list(rows)
    found: dict[str, int | None] = {}
    for key, _, name in every:
        if word := folded(name):
            found[word] = key if word not in found else None
    return found | {folded(code): key for key, code, _ in every}


@dataclass(frozen=True, slots=True)
class Around:
    """What rows are read by: the record's names, the choices for the whole file, and today.

    ``order`` is "dmy", "mdy", or "" where no date needs it. ``programme``, ``profile`` and
    ``received`` hold for rows that say nothing, as do the sites ``usual``; without any, such a row
    may go to every site.
    """

    today: date
    schemes: Mapping[int, Scheme]
    programmes: Names
    profiles: Names
    sites: Names
    areas: Names
    features: Names
    skills: Names
    order: str = ""
    programme: int | None = None
    profile: int | None = None
    received: date | None = None
    usual: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a cell (of the column ``column``) and what to do; never the value."""

    column: str
    problem: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """A good row: a request to be, by the record's keys; times are (day, minute, minutes)."""

    reference: str
    programme: int
    terms: int
    profile: int
    received: date
    release: date
    due: date
    expires: date
    subject: str = ""
    given_name: str = ""
    family_name: str = ""
    phone: str = ""
    email: str = ""
    language: str = ""
    priority: float = 1.0
    area: int | None = None
    access: bool = False
    longer: bool = False
    sites: tuple[int, ...] = ()
    features: tuple[int, ...] = ()
    skills: tuple[int, ...] = ()
    times: tuple[tuple[date, int, int], ...] = ()


@dataclass(slots=True)
class Read:
    """A row that was read: a candidate, or the faults that keep it from being one."""

    candidate: Candidate | None = None
    faults: list[Fault] = field(default_factory=list)
