"""``python -m tests.bench.past``: how long the demo's record takes to make and to load.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from importlib import import_module
from typing import Any

import django
from django.db import connection

from tests.bench.record import scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")


def main() -> int:
    """Make it once, load it once, check it once."""
    django.setup()
    # Models can be imported only now.
    story = import_module("planner.gateway.demo.story")
    make_past = import_module("planner.gateway.demo.past").make_past
    load = import_module("planner.gateway.demo.load").load
    checks = import_module("sites.check.all").CHECKS
    tables = timed("make", lambda: make_past(story.TODAY, 1, "!"))
    with scratch():
        timed(f"load on {connection.vendor}, {tables.count:,} rows", lambda: load(tables))
        found = timed("check", lambda: [fault for check in checks.values() for fault in check()])
    print(f"{len(found)} findings")
    return 1 if found else 0


def timed(what: str, job: Callable[[], Any]) -> Any:
    """Run a job and print its wall and processor seconds."""
    wall, own = time.perf_counter(), time.process_time()
    result = job()
    spent = f"{time.perf_counter() - wall:6.1f} s, own CPU {time.process_time() - own:5.1f} s"
    print(f"{what:<40} {spent}")
    return result


if __name__ == "__main__":
    sys.exit(main())
