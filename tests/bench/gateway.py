"""``python -m tests.bench.gateway [REQUESTS]``: the record as a network, and a plan written back.

Runs on the database of ``DATABASE_URL``, in a database of its own that it drops again. The plan is
made of list order alone: each request goes to the first free place, no promise is looked at.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from importlib import import_module
from typing import Any

import django
from django.db import connection, reset_queries

from planner.engine.network import Network
from planner.engine.plan import Booking, Plan
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from planner.engine.units import DAY
from tests.bench.record import scratch

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
MINUTES = 20
REQUESTS = 10_000


def measured(name: str, work: Callable[[], Any]) -> Any:
    """Do it and print seconds of wall and processor, and the number of queries."""
    connection.queries_log.clear()
    connection.force_debug_cursor = True
    reset_queries()
    wall, cpu = time.perf_counter(), time.process_time()
    result = work()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    queries = len(connection.queries)
    connection.force_debug_cursor = False
    print(f"{name:<10} {wall:6.2f} s wall {cpu:6.2f} s processor {queries:6d} queries")
    return result


def filled(network: Network) -> Plan:
    """Shifts filled from their begin, a station each, where nothing is closed."""
    waiting: dict[str, list[str]] = {}
    for request in network.requests:
        if not (request.features or request.skills or request.available):
            for choice in request.sites[:1]:
                waiting.setdefault(choice.site, []).append(request.id)
    stations: dict[str, list[str]] = {}
    for row in network.stations:
        stations.setdefault(row.site, []).append(row.id)
    closed = {row.id: row.closed for row in network.stations}
    opened = {row.id: row.open for row in network.sites}
    release = {row.id: row.release for row in network.requests}
    used: dict[tuple[str, int], int] = {}
    bookings = []
    for technician in network.technicians:
        for shift in technician.shifts:
            key = (shift.site, shift.start // DAY)
            number = used.get(key, 0)
            if number >= len(stations[shift.site]):
                continue
            used[key] = number + 1
            station = stations[shift.site][number]
            for start in range(shift.start, min(shift.end, shift.break_start) - MINUTES, MINUTES):
                end = start + MINUTES
                free = not any(each.start < end and start < each.end for each in closed[station])
                inside = any(w.start <= start and end <= w.end for w in opened[shift.site])
                line = waiting.get(shift.site, [])
                if free and inside and line and release[line[-1]] <= start // DAY:
                    bookings.append(
                        Booking(
                            line.pop(), shift.site, station, technician.id, start, start, MINUTES, 0
                        )
                    )
    return Plan(tuple(bookings), (), (), (), (), (), {}, 0, 0, None)


def main() -> int:
    """Import, read, write, read again."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else REQUESTS
    network = generate(Size(requests=most, sites=max(1, most // 600), days=10))
    django.setup()
    # Models can be imported only now.
    record = import_module("planner.gateway.record")
    with scratch():
        measured("store", lambda: record.store(network))
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        days = {"first_day": network.first_day, "days": network.days}
        there = measured("read", lambda: record.read(**days))
        plan = filled(there)
        written = measured("write", lambda: record.write(there, plan))
        now = measured("read", lambda: record.read(**days))
        print(
            f"{connection.vendor}: {len(there.requests)} requests, {written.booked} booked, "
            f"{len(written.changed)} not, {len(now.appointments)} appointments"
        )
    return 0


if __name__ == "__main__":
    sys.exit(main())
