"""``python -m tests.bench.asked [REQUESTS]``: how long a coordinator waits for a caller's times.

A record of so many requests (50,000) is made in a database of its own, on the database of
``DATABASE_URL``, and filled by list order. Then callers are answered: the first in a new process,
others while nothing changes, others after each a booking at one of their sites. Prints
milliseconds of processor time (SQLite's own work is in it, PostgreSQL's is not); nothing is
asserted.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from datetime import datetime
from datetime import time as clock
from functools import partial
from importlib import import_module
from typing import Any
from zoneinfo import ZoneInfo

import django

from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from tests.bench.gateway import filled, measured
from tests.bench.record import scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
REQUESTS = 50_000
ASKED = 60


def timed(work: Callable[[], Any]) -> float:
    """Milliseconds of processor time, so that a busy machine does not blur them."""
    since = time.thread_time()
    work()
    return 1000 * (time.thread_time() - since)


def told(name: str, taken: list[float]) -> None:
    """Median, nine in ten, longest."""
    taken.sort()
    middle, most = taken[len(taken) // 2], taken[len(taken) * 9 // 10]
    print(f"{name:34} {middle:8.0f} {most:8.0f} {taken[-1]:8.0f}")


def main() -> int:
    """Fill, ask, print."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else REQUESTS
    network = generate(Size(requests=most, sites=max(1, most // 600), days=10))
    django.setup()
    # Models can be imported only now.
    record = import_module("planner.gateway.record")
    ask = import_module("planner.gateway.offers.ask").ask
    taking = import_module("planner.gateway.offers.take")
    models = import_module("sites.models")
    with scratch():
        measured("store", lambda: record.store(network))
        there = measured("read", lambda: record.read(first_day=network.first_day, days=10))
        measured("write", lambda: record.write(there, filled(there)))
        now = datetime.combine(network.first_day, clock(7), ZoneInfo("UTC"))
        sites = list(models.Site.objects.all())
        free = list(models.Request.objects.filter(appointments=None, release__lte=now.date()))
        print(f"{models.Request.objects.count()} requests, {len(sites)} sites, {len(free)} to book")
        print(f"{'milliseconds':34} {'median':>8} {'9 in 10':>8} {'longest':>8}")
        told("the first of a process", [timed(lambda: ask(free[0], now=now, sites=sites))])
        step = max(1, len(free) // ASKED)
        callers = free[::step][:ASKED]
        answer = partial(ask, now=now, sites=sites)
        told("a caller, desks not made yet", [timed(partial(answer, one)) for one in callers])
        told("a caller, desks as they were", [timed(partial(answer, one)) for one in callers])
        after, books = [], []
        for one, other in zip(callers[:20], callers[20:], strict=False):
            if times := answer(one).times:
                key = taking.wish(times[0].key)
                book = partial(taking.take, by=None, now=now, sites=sites, seen="none")
                books.append(timed(partial(book, one, key)))
                after.append(timed(partial(answer, other)))
        told("taking a time", books)
        told("a caller after that booking", after)
    return 0


if __name__ == "__main__":
    sys.exit(main())
