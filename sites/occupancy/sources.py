"""Which rows occupy what: written once, for both databases and for ``check_record``."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

from sites.step import OCCUPIES

FOR_EVER = 1 << 40  # a minute that no calendar reaches
MINUTES_A_DAY = 24 * 60


class Kind(IntEnum):
    """What is taken. Two things of one kind and resource never overlap."""

    STATION = 1
    TECHNICIAN = 2
    SUBJECT = 3
    SHIFT = 4
    SCANNER = 5
    SCANNER_PLACE = 6


KIND_WORDS = {
    Kind.STATION: "station",
    Kind.TECHNICIAN: "technician",
    Kind.SUBJECT: "subject",
    Kind.SHIFT: "technician's shift",
    Kind.SCANNER: "scanner",
    Kind.SCANNER_PLACE: "station's scanner",
}


@dataclass(frozen=True, slots=True)
class Source:
    """A table whose rows occupy.

    ``takes`` gives the column of each kind of resource, ``when`` the condition on row ``t``;
    ``starts`` and ``ends`` are columns, ``days`` says that they are dates (an open end: for ever).
    ``agrees`` is a condition on row ``t`` that must hold, with what to say where it does not.
    """

    number: int
    name: str
    takes: tuple[tuple[Kind, str], ...]
    when: str = "1 = 1"
    starts: str = "starts_at"
    ends: str = "ends_at"
    days: bool = False
    agrees: tuple[str, str] | None = None

    @property
    def table(self) -> str:
        """The table's name in the database."""
        return f"record_{self.name}"


STEPS = ", ".join(f"'{step.value}'" for step in OCCUPIES)
SOURCES = (
    Source(
        1,
        "appointment",
        (
            (Kind.STATION, "station_id"),
            (Kind.TECHNICIAN, "technician_id"),
            (Kind.SUBJECT, "subject_id"),
        ),
        when=f"t.step IN ({STEPS})",
        agrees=(
            "t.subject_id = (SELECT r.subject_id FROM record_request r WHERE r.id = t.request_id)",
            "an appointment names another subject than its request",
        ),
    ),
    Source(
        2,
        "carewindow",
        ((Kind.STATION, "station_id"), (Kind.TECHNICIAN, "technician_id")),
        when="t.starts_at IS NOT NULL AND t.outcome <> 'missed'",
    ),
    Source(
        3,
        "break",
        ((Kind.TECHNICIAN, "technician_id"),),
        agrees=(
            "t.technician_id = "
            "(SELECT s.technician_id FROM record_shift s WHERE s.id = t.shift_id)",
            "a break names another technician than its shift",
        ),
    ),
    Source(4, "downtime", ((Kind.STATION, "station_id"),)),
    Source(5, "absence", ((Kind.TECHNICIAN, "technician_id"),)),
    Source(6, "shift", ((Kind.SHIFT, "technician_id"),)),
    Source(
        7,
        "scannerplacement",
        ((Kind.SCANNER, "scanner_id"), (Kind.SCANNER_PLACE, "station_id")),
        starts="starts_on",
        ends="ends_on",
        days=True,
    ),
)
BY_NUMBER = {source.number: source for source in SOURCES}


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a database writes minutes since 1970 of an instant (down, up) and of a date."""

    down: str
    up: str
    date: str


SQLITE = Dialect(
    down="(CAST(strftime('%s', {0}) AS INTEGER) / 60)",
    up="((CAST(strftime('%s', {0}) AS INTEGER) + 59) / 60)",
    date="(CAST(strftime('%s', {0}) AS INTEGER) / 60)",
)
POSTGRES = Dialect(
    down="floor(extract(epoch FROM {0}) / 60)::bigint",
    up="ceil(extract(epoch FROM {0}) / 60)::bigint",
    date="(({0} - DATE '1970-01-01')::bigint * 1440)",
)


def due(source: Source, dialect: Dialect, rows: str = "") -> str:
    """SELECT of what rows must occupy, with the columns of the occupancy.

    ``rows`` is what to select from, the whole table unless given.
    """
    if source.days:
        starts = dialect.date.format(f"t.{source.starts}")
        ends = f"coalesce({dialect.date.format(f't.{source.ends}')}, {FOR_EVER})"
    else:
        starts = dialect.down.format(f"t.{source.starts}")
        ends = dialect.up.format(f"t.{source.ends}")
    return " UNION ALL ".join(
        f"SELECT {source.number} AS source, t.id AS source_id, {kind.value} AS kind, "
        f"t.{column} AS resource, {starts} AS starts, {ends} AS ends "
        f"FROM {rows or source.table} t WHERE {source.when} AND t.{column} IS NOT NULL"
        for kind, column in source.takes
    )


def view(source: Source) -> str:
    """The name of the view that shows `due` of a table."""
    return f"record_due_{source.name}"
