"""``python -m tests.bench.pages [REQUESTS] [--processor]``: what the list of requests costs.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again, filled as
`tests.bench.standing` fills it. A line for each address: median wall milliseconds of nine answers
by the test client (no network), queries, and kilobytes of the answer. ``--processor`` counts this
process's own processor time, which other work on the machine hardly stretches.
"""

from __future__ import annotations

import os
import sys
import time
from datetime import UTC, datetime
from importlib import import_module
from statistics import median
from typing import Any

import django
from django.apps import apps
from django.conf import settings
from django.db import connection, reset_queries
from django.test import Client

from tests.bench.record import scratch
from tests.bench.standing import fill

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
CLOCK = time.process_time if "--processor" in sys.argv else time.perf_counter
NOW = datetime(2024, 11, 1, 9, tzinfo=UTC)
PAGES = (
    "/requests/",
    "/requests/?sort=chance",
    "/requests/?sort=due",
    "/requests/?standing=all&page=200",
    "/requests/?standing=all&sort=-received",
    "/requests/?standing=to_book&due=week-1",
    "/requests/?returned=to-contact",
    "/requests/?q=r-4",
)


def answered(client: Client, page: str) -> Any:
    """An answer that is a page."""
    answer = client.get(page)
    assert answer.status_code == 200, (page, answer.status_code)
    return answer


def main() -> int:
    """Fill a database and ask for pages."""
    numbers = [each for each in sys.argv[1:] if each.isdigit()]
    most = int(numbers[0]) if numbers else 50_000
    django.setup()
    settings.NOW = NOW
    settings.ALLOWED_HOSTS = ["*"]
    settings.CACHES = import_module("planner.settings").CACHES
    with scratch():
        fill(most)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        user = apps.get_model("record", "User").objects.create_superuser("chief")
        client = Client()
        client.force_login(user)
        for page in PAGES:
            answered(client, page)
            times = []
            for _ in range(9):
                began = CLOCK()
                answer = answered(client, page)
                times.append(1000 * (CLOCK() - began))
            connection.force_debug_cursor = True
            reset_queries()
            answered(client, page)
            queries = len(connection.queries)
            connection.force_debug_cursor = False
            print(
                f"{connection.vendor}: {most} requests, {page:<42} {median(times):>6.0f} ms, "
                f"{queries} queries, {len(answer.content) / 1024:.0f} kB",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())
