"""``python -m tests.bench.standing [REQUESTS]``: where every request stands, in one query.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again: of the
requests, each third was booked, each sixth captured, each ninth sent on, half of those answered.
"""

from __future__ import annotations

import os
import sys
import time
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from functools import partial
from importlib import import_module

import django
from django.apps import apps
from django.db import connection, reset_queries

from tests.bench.record import appointments, bookings, scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
TODAY = date(2024, 11, 1)
SENT = datetime(2024, 10, 20, tzinfo=UTC)


def fill(most: int) -> None:
    """Requests, a third of them with an appointment, and what came after."""
    model = partial(apps.get_model, "record")
    write, _ = appointments(most)
    write(list(bookings(most // 3)))
    user = model("User").objects.create(username="bench")
    held = list(model("Appointment").objects.order_by("pk")[: most // 6])
    model("Appointment").objects.filter(pk__lte=held[-1].pk).update(step="held")
    ended = {"ended_at": SENT, "ended_how": "complete"}
    seen = {"identity_checked_at": SENT, "identity_checked_by": user}
    sessions = model("Session").objects.bulk_create(
        model("Session")(appointment=row, started_at=SENT, **ended, **seen) for row in held
    )
    sent = model("Submission").objects.bulk_create(
        model("Submission")(
            request_id=session.appointment.request_id,
            session=session,
            control_number=f"n-{session.pk}",
            sent_at=SENT,
        )
        for session in sessions[: most // 9]
    )
    model("Response").objects.bulk_create(
        model("Response")(
            submission=row,
            kind="accepted" if row.pk % 10 else "image",
            received_at=SENT + timedelta(days=3),
        )
        for row in sent[::2]
    )


def main() -> int:
    """Fill a database and ask it once."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    django.setup()
    # Models can be imported only now.
    standing = import_module("sites.selectors.standing").requests_standing
    with scratch():
        fill(most)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        connection.force_debug_cursor = True
        reset_queries()
        began = time.perf_counter()
        every = apps.get_model("record", "Request").objects.all()
        rows = standing(today=TODAY, requests=every).values_list("standing", flat=True)
        found = Counter(rows.iterator())
        seconds = time.perf_counter() - began
        queries = len(connection.queries)
        connection.force_debug_cursor = False
    print(f"{connection.vendor}: {most} requests, {queries} query, {seconds:.2f} s")
    print(", ".join(f"{name} {count}" for name, count in sorted(found.items())))
    return 0


if __name__ == "__main__":
    sys.exit(main())
