"""How long an answer takes: ``python -m tests.bench.offers NETWORK PLAN [--asked N]``.

The desk is loaded and run ahead; then N booked requests are asked for another time, and every
unbooked one (at most N) for a first. Prints milliseconds of processor time, so that a busy machine
does not blur them; nothing is asserted.
"""

from __future__ import annotations

import argparse
import random
import time
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from planner.engine.booking.offers import OfferDesk
from planner.engine.booking.offers.book import Change
from planner.gateway.files import read_network, read_plan

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.engine.network import Request

TOP = 10


def timed(ask: Callable[[Request], object], requests: list[Request]) -> str:
    """Median, nine in ten, and the longest, in milliseconds."""
    taken = []
    for request in requests:
        since = time.thread_time()
        ask(request)
        taken.append(1000 * (time.thread_time() - since))
    taken.sort()
    if not taken:
        return "nobody"
    return f"{taken[len(taken) // 2]:8.1f} {taken[len(taken) * 9 // 10]:8.1f} {taken[-1]:8.1f}"


def main() -> None:
    """Load, ask, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("network", type=Path)
    parser.add_argument("plan", type=Path)
    parser.add_argument("--asked", type=int, default=200)
    options = parser.parse_args()
    network = read_network(options.network)
    plan = read_plan(options.plan, network)
    since = time.perf_counter()
    desk = OfferDesk(network, plan)
    loaded = time.perf_counter()
    desk.warm()
    print(f"loaded in {loaded - since:.2f} s, run ahead in {time.perf_counter() - loaded:.2f} s")
    fixed = {item.request for item in network.appointments if item.fixed}
    booked = [item.request for item in plan.bookings if item.request not in fixed]
    groups = {
        "booked": random.Random(1).sample(booked, min(options.asked, len(booked))),
        "unbooked": [item.request for item in plan.unbooked][: options.asked],
    }

    def free(request: Request) -> object:
        return list(islice(desk.search.free(request, Change(frozenset({request.id}))), TOP))

    print(f"{'milliseconds':26}{'median':>8} {'9 in 10':>8} {'longest':>8}")
    for name, ids in groups.items():
        requests = [desk.request(item) for item in ids]
        for request in requests[:2]:
            desk.offers(request, TOP)
        print(f"{name + ', free times':26}{timed(free, requests)}")
        print(f"{name + ', all':26}{timed(lambda item: desk.offers(item, TOP), requests)}")


if __name__ == "__main__":
    main()
