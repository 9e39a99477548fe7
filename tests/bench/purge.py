"""``python -m tests.bench.purge [REQUESTS]``: what it costs to purge half of them by rule.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again: as many
subjects as requests, all with names and contact data, every second one closed long ago.
"""

from __future__ import annotations

import os
import sys
import time
from datetime import UTC, date, datetime
from functools import partial
from importlib import import_module

import django
from django.apps import apps
from django.core.management import call_command
from django.db import connection

from tests.bench.record import scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
CLOSED = {"closed_at": datetime(2020, 2, 1, tzinfo=UTC), "closed_why": "withdrawn"}


def fill(most: int) -> None:
    """Subjects and their requests."""
    model = partial(apps.get_model, "record")
    programme = model("Programme").objects.create(code="bench", name="Bench")
    start = date(2020, 1, 1)
    terms = model("ProgrammeVersion").objects.create(programme=programme, starts_on=start)
    profile = model("Profile").objects.create(code="full", setup_mean=4, wrapup_minutes=1)
    people = [
        model("Subject")(
            reference=f"b-{n}",
            given_name="Ilmi",
            family_name=f"Name {n}",
            phone=f"+00 {n}",
            email=f"n{n}@example.invalid",
        )
        for n in range(most)
    ]
    for each in people:
        each.set_keys()
    made = model("Subject").objects.bulk_create(people, batch_size=1000)
    span = {"received": start, "release": start, "due": date(2020, 2, 1)}
    model("Request").objects.bulk_create(
        [
            model("Request")(
                reference=f"b-{n}",
                subject=each,
                terms=terms,
                profile=profile,
                **span,
                **(CLOSED if n % 2 else {}),
            )
            for n, each in enumerate(made)
        ],
        batch_size=1000,
    )


def main() -> int:
    """Fill a database, look, purge, look again."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    django.setup()
    retention = import_module("sites.selectors.retention")  # models can be imported only now
    with scratch():
        fill(most)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        for words in ([], ["--apply"]):
            began = time.perf_counter()
            call_command("purge_personal_data", *words)
            name = " ".join(words) or "dry run"
            print(
                f"{connection.vendor}, {most} requests, {name}: {time.perf_counter() - began:.1f} s"
            )
        held = retention.subjects_held(today=datetime.now(UTC).date())
        print(
            f"due {held.due}, open {held.open}, with data {retention.subjects_personal().count()}"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
