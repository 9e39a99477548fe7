"""``python -m tests.bench.record``: what it costs that the database refuses a double booking.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again. Each line is
one mechanism: rows, kilobytes and wall seconds for 10,000 bookings of three resources
each, written in one transaction, and milliseconds for one booking in a transaction of its own.

- ``ticks``: one row per resource and minute, a primary key refuses a second one.
- ``intervals``: one row per resource, refused by a range exclusion or by a look at the neighbour.
- ``none``: appointments without triggers; ``record``: with them, as they are in use.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial

import django
from django.apps import apps
from django.db import connection, transaction

from sites.audit.keep import remove
from sites.occupancy.keep import after_migrate, before_migrate

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
MINUTES = 18
STATIONS = 100
PER_DAY = 25
Booking = tuple[int, int, int, int, int]  # station, technician, subject, starts, ends

TICKS = {
    "sqlite": "CREATE TABLE bench_ticks (kind smallint NOT NULL, resource bigint NOT NULL, "
    "tick bigint NOT NULL, source_id bigint NOT NULL, PRIMARY KEY (kind, resource, tick)) "
    "WITHOUT ROWID",
    "postgresql": "CREATE TABLE bench_ticks (kind smallint NOT NULL, resource bigint NOT NULL, "
    "tick bigint NOT NULL, source_id bigint NOT NULL, PRIMARY KEY (kind, resource, tick))",
}
INTERVALS = {
    "sqlite": (
        "CREATE TABLE bench_intervals (kind smallint NOT NULL, resource bigint NOT NULL, "
        "starts bigint NOT NULL, ends bigint NOT NULL, source_id bigint NOT NULL, "
        "PRIMARY KEY (kind, resource, starts)) WITHOUT ROWID",
        "CREATE TRIGGER bench_overlap BEFORE INSERT ON bench_intervals WHEN (SELECT ends FROM "
        "bench_intervals WHERE kind = NEW.kind AND resource = NEW.resource AND starts < NEW.ends "
        "ORDER BY starts DESC LIMIT 1) > NEW.starts BEGIN SELECT RAISE(ABORT, 'overlap'); END",
    ),
    "postgresql": (
        "CREATE TABLE bench_intervals (kind smallint NOT NULL, resource bigint NOT NULL, "
        "starts bigint NOT NULL, ends bigint NOT NULL, source_id bigint NOT NULL, "
        "EXCLUDE USING gist (kind WITH =, resource WITH =, int8range(starts, ends) WITH &&))",
    ),
}


@dataclass(frozen=True, slots=True)
class Cost:
    """What one mechanism costs for so many bookings."""

    name: str
    rows: int
    kilobytes: float
    seconds: float
    one_ms: float

    def __str__(self) -> str:
        return (
            f"{self.name:<10} {self.rows:>8} rows {self.kilobytes:>9.0f} kB "
            f"{self.seconds:>7.2f} s {self.one_ms:>7.2f} ms each"
        )


def bookings(count: int) -> Iterator[Booking]:
    """Back to back on many stations, one technician a station, a subject each."""
    for number in range(count):
        slot, station = divmod(number, STATIONS)
        day, place = divmod(slot, PER_DAY)
        starts = (20_000 + day) * 1440 + 480 + place * MINUTES
        yield station + 1, station + 1, number + 1, starts, starts + MINUTES


def bytes_used(table: str) -> int:
    """Bytes of a table with its indexes; on SQLite, of the whole file."""
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute("SELECT pg_total_relation_size(%s)", [table])
            return int(cursor.fetchone()[0])
        pages = []
        for name in ("page_count", "freelist_count", "page_size"):
            cursor.execute(f"PRAGMA {name}")
            pages.append(int(cursor.fetchone()[0]))
    return (pages[0] - pages[1]) * pages[2]


def measured(
    name: str,
    tables: list[str],
    write: Callable[[list[Booking]], None],
    rows: Callable[[], int],
    most: int,
) -> Cost:
    """Write most bookings at once, then the rest one by one."""
    every = list(bookings(most + most // 10))
    before = sum(bytes_used(table) for table in tables)
    had = rows()
    began = time.perf_counter()
    with transaction.atomic():
        write(every[:most])
    seconds = time.perf_counter() - began
    size = sum(bytes_used(table) for table in tables) - before
    cost = Cost(name, rows() - had, size / 1024, seconds, 0)
    began = time.perf_counter()
    for booking in every[most:]:
        with transaction.atomic():
            write([booking])
    return replace(cost, one_ms=(time.perf_counter() - began) / (most // 10) * 1000)


def count(table: str) -> int:
    """Rows of a table."""
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT count(*) FROM {table}")  # noqa: S608 - own names
        return int(cursor.fetchone()[0])


def many(table: str, columns: int, rows: Iterator[tuple[int, ...]]) -> None:
    """Write rows in blocks of 200."""
    block: list[tuple[int, ...]] = []
    with connection.cursor() as cursor:

        def flush() -> None:
            marks = "(" + ", ".join(["%s"] * columns) + ")"
            values = [value for row in block for value in row]
            cursor.execute(
                f"INSERT INTO {table} VALUES {', '.join([marks] * len(block))}",  # noqa: S608 - own names
                values,
            )
            block.clear()

        for row in rows:
            block.append(row)
            if len(block) == 200:
                flush()
        if block:
            flush()


def write_ticks(some: list[Booking]) -> None:
    """One row per resource and minute."""
    rows = (
        (kind, who, tick, booking[2])
        for booking in some
        for kind, who in enumerate(booking[:3])
        for tick in range(booking[3], booking[4])
    )
    many("bench_ticks", 4, rows)


def write_intervals(some: list[Booking]) -> None:
    """One row per resource."""
    rows = (
        (kind, who, booking[3], booking[4], booking[2])
        for booking in some
        for kind, who in enumerate(booking[:3])
    )
    many("bench_intervals", 5, rows)


@contextmanager
def scratch() -> Iterator[None]:
    """A migrated database of its own, dropped again."""
    old = connection.settings_dict["NAME"]
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        yield
    finally:
        connection.creation.destroy_test_db(old, verbosity=0)


def main() -> int:
    """Measure every mechanism on this database."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    django.setup()
    with scratch():
        remove(connection)  # the audit has a bench of its own
        with connection.cursor() as cursor:
            for statement in (TICKS[connection.vendor], *INTERVALS[connection.vendor]):
                cursor.execute(statement)
        print(f"{connection.vendor}, {most} bookings of {MINUTES} minutes")
        for name, write in (("ticks", write_ticks), ("intervals", write_intervals)):
            table = f"bench_{name}"
            print(measured(name, [table], write, partial(count, table), most))
        book, clear = appointments(most + most // 10)
        for name, tables, change in (
            ("none", ["record_appointment"], before_migrate),
            ("record", ["record_appointment", "record_occupancy"], after_migrate),
        ):
            clear()
            change(using="default")
            print(measured(name, tables, book, partial(count, tables[-1]), most))
    return 0


def appointments(most: int) -> tuple[Callable[[list[Booking]], None], Callable[[], None]]:
    """Make everything that appointments need; return their writer and what deletes them again."""
    model = partial(apps.get_model, "record")
    programme = model("Programme").objects.create(code="bench", name="Bench")
    terms = model("ProgrammeVersion").objects.create(
        programme=programme, starts_on=date(2020, 1, 1)
    )
    profile = model("Profile").objects.create(code="bench", setup_mean=1)
    site = model("Site").objects.create(code="bench", name="Bench", timezone="UTC")
    stations = model("Station").objects.bulk_create(
        model("Station")(code=f"s-{n}", site=site) for n in range(STATIONS)
    )
    technicians = model("Technician").objects.bulk_create(
        model("Technician")(code=f"t-{n}", name="t", home=site) for n in range(STATIONS)
    )
    subjects = model("Subject").objects.bulk_create(
        (model("Subject")(reference=f"s-{n}") for n in range(most)), batch_size=500
    )
    day = date(2020, 1, 1)
    requests = model("Request").objects.bulk_create(
        (
            model("Request")(
                reference=f"r-{n}",
                subject=subject,
                terms=terms,
                profile=profile,
                received=day,
                release=day,
                due=day,
            )
            for n, subject in enumerate(subjects)
        ),
        batch_size=500,
    )
    row = model("Appointment")

    def write(some: list[Booking]) -> None:
        made = []
        for station, technician, subject, starts, ends in some:
            first = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(minutes=starts)
            made.append(
                row(
                    code=f"a-{subject}",
                    request=requests[subject - 1],
                    subject=subjects[subject - 1],
                    station=stations[station - 1],
                    technician=technicians[technician - 1],
                    day=first.date(),
                    minute=starts % 1440,
                    told_minute=starts % 1440,
                    minutes=ends - starts,
                    starts_at=first,
                    ends_at=first + timedelta(minutes=ends - starts),
                )
            )
        row.objects.bulk_create(made, batch_size=50)

    def clear() -> None:
        row.objects.all().delete()
        with connection.cursor() as cursor:
            cursor.execute("VACUUM")

    return write, clear


if __name__ == "__main__":
    sys.exit(main())
