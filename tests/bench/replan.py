"""``python -m tests.bench.replan NETWORK PLAN``: what random station-days down do to a plan.

Each line is one station that is down for a whole day: seconds (reading and writing apart), people
affected, untouched people who gave way, people lost, care without a time. The figures of a plan
with fixed appointments on that station-day are passed over (they make it impossible, by name).
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from planner.engine.booking.replan import Events, Outage, replan
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY, day_text
from planner.engine.verify import verify
from planner.gateway.files import read_network, read_plan

DRAWS = 10_000


@dataclass(frozen=True, slots=True)
class Row:
    """One station-day down."""

    station: str
    date: str
    seconds: float
    affected: int
    gave_way: int
    lost: int
    care_lost: int
    broken: int


def measure(network: Network, plan: Plan, station: str, day: int) -> Row | None:
    """Take one station down for one day; None where fixed appointments stand there."""
    events = Events(down=(Outage(station, day * DAY, (day + 1) * DAY),))
    began = time.monotonic()
    try:
        made = replan(network, plan, events)
    except NetworkImpossible:
        return None
    seconds = time.monotonic() - began
    return Row(
        station,
        day_text(day, network.first_day),
        seconds,
        made.news.affected,
        len(made.news.of("gave way")),
        sum(change.is_lost for change in made.news.changes),
        len(made.plan.care_unplaced) - len(plan.care_unplaced),
        len(verify(made.network, made.plan, draws=DRAWS, seed=17)),
    )


def main(arguments: list[str] | None = None) -> int:
    """Measure, print a table; 1 where a rule was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.replan", description=__doc__)
    parser.add_argument("network", type=Path)
    parser.add_argument("plan", type=Path)
    parser.add_argument("--count", type=int, default=10, help="station-days (10)")
    parser.add_argument("--seed", type=int, default=1, help="of their choice (1)")
    asked = parser.parse_args(arguments)
    network = read_network(asked.network)
    plan = read_plan(asked.plan, network)
    busy = sorted({(item.station, item.start // DAY) for item in plan.bookings})
    random.Random(asked.seed).shuffle(busy)
    rows: list[Row] = []
    print("station-day                 seconds affected gave-way lost care-lost broken")
    while busy and len(rows) < asked.count:
        row = measure(network, plan, *busy.pop())
        if row is not None:
            rows.append(row)
            print(
                f"{row.station:<16} {row.date} {row.seconds:7.2f} {row.affected:8} "
                f"{row.gave_way:8} {row.lost:4} {row.care_lost:9} {row.broken:6}",
                flush=True,
            )
    affected, gave_way = sum(row.affected for row in rows), sum(row.gave_way for row in rows)
    print(
        f"longest {max(row.seconds for row in rows):.2f} s, {affected} affected, "
        f"{10 * gave_way / affected:.2f} untouched moved per ten of them, "
        f"{sum(row.lost for row in rows)} people lost, {sum(row.care_lost for row in rows)} care"
    )
    return int(any(row.broken for row in rows))


if __name__ == "__main__":
    sys.exit(main())
