"""``python -m tests.bench.audit``: what it costs that every write leaves an entry.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again. Three ways
(none, our triggers, django-auditlog's signals) of the same writes of appointments: many rows
created at once, one UPDATE of all of them, 500 rows saved one by one in transactions of their own,
and all deleted. Each line says seconds, entries written, and what a row cost more than without. The
occupancy's triggers are at work all the time, as they are in use.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any

import django
from django.apps import apps
from django.db import connection, transaction
from django.utils.module_loading import import_string

from sites.audit.actor import acting, login
from sites.audit.keep import install, remove
from tests.bench.record import appointments, bookings, count, scratch

os.environ["DJANGO_SETTINGS_MODULE"] = (
    "tests.bench.audit_settings"  # the library is installed there
)
SAVED = 500
Step = tuple[str, int, Callable[[], object]]


def steps(most: int, write: Callable[..., None]) -> list[Step]:
    """What is measured: its name, how many rows it writes, and how."""
    rows = apps.get_model("record", "Appointment").objects
    every = list(bookings(most))

    def create() -> None:
        with transaction.atomic():
            write(every)

    def save() -> None:
        for row in list(rows.order_by("pk")[:SAVED]):
            row.p_wait = 0.25
            row.why = "saved"
            row.save()

    return [
        ("create at once", most, create),
        ("update at once", most, lambda: rows.update(p_wait=0.5, why="moved")),
        ("save one by one", SAVED, save),
        ("delete at once", most, lambda: rows.all().delete()),
    ]


def measured(step: Step, entries: Callable[[], int]) -> tuple[float, int]:
    """Wall seconds, and entries written."""
    had, began = entries(), time.perf_counter()
    with acting(login(1), "bench"):
        step[2]()
    return time.perf_counter() - began, entries() - had


def main() -> int:
    """Measure every way on this database."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    django.setup()
    with scratch():
        remove(connection)
        write, _ = appointments(most)
        print(f"{connection.vendor}, {most} appointments")
        base: dict[str, float] = {}
        ways: list[tuple[str, str, Callable[[], object]]] = [
            ("none", "record_auditentry", lambda: None),
            ("triggers", "record_auditentry", partial(install, connection)),
            ("auditlog", "auditlog_logentry", with_library),
        ]
        for way, table, before in ways:
            before()
            for step in steps(most, write):
                seconds, entries = measured(step, partial(count, table))
                base.setdefault(step[0], seconds)
                more = (seconds - base[step[0]]) / step[1] * 1e6
                print(
                    f"{way:<9} {step[0]:<16} {seconds:>7.2f} s {entries:>7} entries "
                    f"{more:>8.0f} µs more a row"
                )
    return 0


def with_library() -> None:
    """Take our triggers away and let the library listen instead."""
    remove(connection)
    listener = import_string("auditlog.registry.auditlog")  # once the applications are ready
    register: Callable[..., Any] = listener.register
    register(apps.get_model("record", "Appointment"))


if __name__ == "__main__":
    sys.exit(main())
