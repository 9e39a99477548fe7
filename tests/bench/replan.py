"""``python -m tests.bench.replan NETWORK PLAN``: what things that go wrong do to a plan.

Each line is one event that lasts a whole day, drawn at random: a station down, a technician absent,
or the busiest site closed (on each of its days, the fullest first). It gives seconds (reading and
writing apart), people affected, untouched people who gave way, people lost and their share, care
that lost its time for good, and broken rules as the judge finds them. A fixed appointment on what
is gone would make the day impossible; such are set free first, as the command's own remedy says.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from dataclasses import dataclass, replace
from pathlib import Path

from planner.engine.booking.replan import Events, Outage, replan
from planner.engine.network import Appointment, Network
from planner.engine.plan import Plan
from planner.engine.units import DAY, day_text
from planner.engine.verify import verify
from planner.gateway.files import read_network, read_plan

DRAWS = 10_000
HEAD = "what                    day        seconds affected gave-way lost share care-lost broken"
KINDS = ("down", "absent", "closed")
Event = tuple[str, str, int]
"""Which option, the id of the thing, and the day."""


@dataclass(frozen=True, slots=True)
class Row:
    """One event and what it did."""

    event: Event
    seconds: float
    affected: int
    gave_way: int
    lost: int
    care_lost: int
    broken: int


def measure(network: Network, plan: Plan, event: Event, *, judged: bool) -> Row:
    """Let one thing be gone for one day."""
    kind, thing, day = event
    outage = (Outage(thing, day * DAY, (day + 1) * DAY),)
    events = Events(
        down=outage if kind == "down" else (),
        absent=outage if kind == "absent" else (),
        closed=outage if kind == "closed" else (),
    )
    network = freed(network, event)
    began = time.thread_time()
    made = replan(network, plan, events)
    seconds = time.thread_time() - began
    return Row(
        event,
        seconds,
        made.news.affected,
        len(made.news.of("gave way")),
        sum(change.is_lost for change in made.news.changes),
        len(made.plan.care_unplaced) - len(plan.care_unplaced),
        len(verify(made.network, made.plan, draws=DRAWS, seed=17)) if judged else 0,
    )


def freed(network: Network, event: Event) -> Network:
    """The network with the fixed appointments that an event strands set free."""
    kind, thing, day = event
    site_of = {item.id: item.site for item in network.stations}

    def is_stranded(item: Appointment) -> bool:
        lost = {"down": item.station, "absent": item.technician, "closed": site_of[item.station]}
        return item.start // DAY == day and lost[kind] == thing

    return replace(
        network,
        appointments=tuple(
            replace(item, fixed=item.fixed and not is_stranded(item))
            for item in network.appointments
        ),
    )


def drawn(plan: Plan, kind: str, count: int, seed: int) -> list[Event]:
    """So many events of a kind on days on which the thing has bookings."""
    if kind == "closed":
        busy = Counter(booking.site for booking in plan.bookings).most_common(1)[0][0]
        days = Counter(b.start // DAY for b in plan.bookings if b.site == busy)
        return [(kind, busy, day) for day, _ in days.most_common(count)]
    things = {
        (b.station if kind == "down" else b.technician, b.start // DAY) for b in plan.bookings
    }
    found = [(kind, thing, day) for thing, day in sorted(things)]
    random.Random(f"{seed}-{kind}").shuffle(found)
    return found[:count]


def total(kind: str, rows: list[Row]) -> str:
    """All rows of a kind in a line."""
    affected = sum(row.affected for row in rows)
    over = sum(row.gave_way > max(1, row.affected // 10) for row in rows)
    return (
        f"{kind}: {len(rows)} cases, longest {max(row.seconds for row in rows):.2f} s,"
        f" {affected:,} affected, {sum(row.lost for row in rows):,} lost,"
        f" {sum(row.gave_way for row in rows):,} untouched moved (more than one for ten affected"
        f" in {over}), {sum(row.care_lost for row in rows)} care lost,"
        f" {sum(row.broken for row in rows)} broken rules"
    )


def main(arguments: list[str] | None = None) -> int:
    """Measure, print a table; 1 where a rule was broken."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.replan", description=__doc__)
    parser.add_argument("network", type=Path)
    parser.add_argument("plan", type=Path)
    parser.add_argument("--count", type=int, default=25, help="events of each kind (25)")
    parser.add_argument("--seed", type=int, default=1, help="of their choice (1)")
    parser.add_argument("--unjudged", action="store_true", help="leave out the judge, to be quick")
    asked = parser.parse_args(arguments)
    network = read_network(asked.network)
    plan = read_plan(asked.plan, network)
    print(
        "what                    day        seconds affected gave-way lost share care-lost broken"
    )
    rows: dict[str, list[Row]] = {kind: [] for kind in KINDS}
    for kind in KINDS:
        for event in drawn(plan, kind, asked.count, asked.seed):
            row = measure(network, plan, event, judged=not asked.unjudged)
            rows[kind].append(row)
            share = row.lost / row.affected if row.affected else 0.0
            print(
                f"{kind:6} {event[1]:<16} {day_text(event[2], network.first_day)} "
                f"{row.seconds:7.2f} {row.affected:8} {row.gave_way:8} {row.lost:4} "
                f"{share:5.0%} {row.care_lost:9} {row.broken:6}",
                flush=True,
            )
    for kind in KINDS:
        print(total(kind, rows[kind]))
    return int(any(row.broken for mine in rows.values() for row in mine))


if __name__ == "__main__":
    sys.exit(main())
