"""``python -m tests.bench.intake [ROWS] [--processor]``: a file of candidates, bytes to requests.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again. One line for
each of CSV and XLSX: wall seconds to read and keep the file, to read its rows (with the longest
piece that a page waits for), and to take them in. Every 50th row has a fault. ``--processor``
counts this process's own processor seconds, which other work on the machine hardly stretches.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime
from functools import partial
from importlib import import_module
from typing import Any

import django
from django.apps import apps

from tests.bench.record import scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
CLOCK = time.process_time if "--processor" in sys.argv else time.perf_counter
NOW = datetime(2027, 3, 2, 9, tzinfo=UTC)
HEAD = ["Reference", "Surname", "First name", "Mobile", "E-mail", "Received", "Sites", "Needs"]


def candidates(count: int, kind: str) -> list[list[str]]:
    """Invented people; every 50th has a date that is none."""
    return [
        [
            f"{kind}-{number}",
            f"Family{number % 7000}",
            f"Given{number % 311}",
            f"+00555{kind == 'csv':d}{number:07d}",
            f"p{number}.{kind}@example.org",
            "2027-02-30" if number % 50 == 0 else "2027-02-20",
            "north; south" if number % 3 else "",
            "longer" if number % 20 == 0 else "",
        ]
        for number in range(count)
    ]


def house() -> None:
    """One programme, one kind of session, two sites, a coordinator."""
    model = partial(apps.get_model, "record")
    programme = model("Programme").objects.create(code="one", name="One")
    model("ProgrammeVersion").objects.create(programme=programme, starts_on=date(2026, 1, 1))
    model("Profile").objects.create(code="full", setup_mean=4)
    for code in ("north", "south"):
        model("Site").objects.create(code=code, name=code.title(), timezone="UTC")
    by = model("User").objects.create(username="bench", role="coordinator")
    by.covers.set(model("Site").objects.all())


def measured(count: int, kind: str) -> str:
    """Take one file in, and say how long each part took."""
    model = partial(apps.get_model, "record")
    files, out = (import_module(f"sites.intake.{name}") for name in ("files", "out"))
    intakes, taking = (import_module(f"sites.services.{name}") for name in ("intakes", "taking"))
    rows = [HEAD, *candidates(count, kind)]
    made = "".join(out.csv_lines(rows)).encode()
    data = made if kind == "csv" else out.workbook([("list", rows)])
    table, reading = timed(lambda: files.read_table(data))
    by = model("User").objects.get(username="bench")
    one, keeping = timed(lambda: intakes.intake_give(table=table, file_name="list", by=by, at=NOW))
    intakes.intake_choose(
        intake=one,
        mapping=one.mapping,
        programme=model("Programme").objects.get(),
        profile=model("Profile").objects.get(),
    )
    pieces = []
    while one.step != "checked":
        one, seconds = timed(lambda: intakes.intake_read(intake=one))  # noqa: B023 - called at once
        pieces.append(seconds)
    taking.intake_decide(intake=one, whole=False, alike=True)
    one, writing = timed(lambda: taking.intake_take(intake=one, at=NOW))
    whole = reading + keeping + sum(pieces) + writing
    return (
        f"{kind:<5} {count:>6} rows, {one.taken} taken: file {reading:.2f} + {keeping:.2f} s, "
        f"rows {sum(pieces):.2f} s in {len(pieces)} pieces (longest {max(pieces):.2f} s), "
        f"written in {writing:.2f} s, together {whole:.2f} s"
    )


def timed(work: Callable[[], Any]) -> tuple[Any, float]:
    """What work returns, and its wall seconds."""
    began = CLOCK()
    found = work()
    return found, CLOCK() - began


def main() -> int:
    """Both kinds of file, one after the other into the same record."""
    numbers = [each for each in sys.argv[1:] if each.isdigit()]
    count = int(numbers[0]) if numbers else 20_000
    django.setup()
    with scratch():
        house()
        for kind in ("csv", "xlsx"):
            print(measured(count, kind), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
