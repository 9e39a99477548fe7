"""The rows that promises bring, with plans that keep the promises laid into them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from planner.engine.booking import Options, plan
from planner.engine.booking.bounds.program import Program, program_of
from planner.engine.network import Appointment, Care, Network, Station
from planner.engine.plan import Plan
from planner.engine.units import DAY, NOON
from tests.engine.booking.build import (
    FULL,
    USUAL,
    at,
    network,
    request,
    rested,
    site,
    technician,
)
from tests.engine.booking.hard import all_care_at_once, large_site, one_skilled

CROWD = tuple(request(f"r{k}", "full", "hall", due=0) for k in range(60))
DRAWN = (FULL, replace(FULL, id="long", captures=FULL.captures * 2))


def loads(program: Program, found: Plan) -> NDArray[np.float64]:
    """What a plan puts on each row, in the row's minutes."""
    problem, options, capacity = program.problem, program.options, program.capacity
    network = problem.network
    assert capacity.factor is not None
    place = {
        (int(r), int(g), int(part)): k
        for k, (r, g, part) in enumerate(
            zip(options.request, options.siteday, options.part, strict=True)
        )
    }
    request = {item.id: r for r, item in enumerate(network.requests)}
    care = {item.id: len(network.requests) + c for c, item in enumerate(network.care)}
    site_of = {item.id: item.site for item in network.stations}
    station_of = {item.id: item.station for item in network.care}
    things = [(request[item.request], item.site, item.start) for item in found.bookings]
    things += [(care[item.care], site_of[station_of[item.care]], item.start) for item in found.care]
    load = np.zeros(len(capacity.rows))
    for entry, where, start in things:
        if entry in problem.fixed_of:
            continue
        g = problem.at[problem.index.site[where], start // DAY]
        option = place[entry, g, int(start % DAY >= NOON)]
        pattern = capacity.pattern[option]
        for k in range(capacity.first[pattern], capacity.first[pattern + 1]):
            load[capacity.rows_of[k]] += capacity.factor[k] * options.minutes[option]
    return load


def crowded(*, care: tuple[Care, ...] = (), fixed: tuple[int, ...] = ()) -> Network:
    """A desk that is asked for twice what it holds, with a break, care and fixed appointments."""
    asked = tuple(replace(item, profile="long" if k % 4 == 0 else "full")
                  for k, item in enumerate(CROWD))  # fmt: skip
    appointments = tuple(
        Appointment(f"a{k}", f"r{k}", "desk", "anna", start, 25, True)
        for k, start in enumerate(fixed)
    )
    day = at(9), at(17)
    return network(
        (site("hall", day),),
        (Station("desk", "hall"),),
        (technician("anna", rested("hall", *day, 30)),),
        asked,
        profiles=DRAWN,
        policy=USUAL,
        care=care,
        appointments=appointments,
    )


WIPE = (Care("wipe", "desk", 20, 0, 0, technician=True),)
CASES: dict[str, Callable[[], Network]] = {
    "a day": crowded,
    "care": lambda: crowded(care=WIPE),
    "care alone": lambda: crowded(care=(replace(WIPE[0], technician=False),)),
    "fixed": lambda: crowded(fixed=(at(10, 40), at(13), at(15, 15))),
    "both": lambda: crowded(care=WIPE, fixed=(at(11),)),
    "large": lambda: large_site(days=1),
    "skilled": one_skilled,
    "much care": all_care_at_once,
}


@pytest.mark.parametrize("case", CASES)
def test_plans_that_keep_their_promises_keep_the_rows(case: str) -> None:
    given = CASES[case]()
    found = plan(given, Options(effort=1))
    program = program_of(given, found, strong=True)
    usual = program_of(given, found, strong=False)
    added = slice(len(usual.capacity.rows), None)
    load, cap = loads(program, found)[added], program.capacity.cap[added]
    assert len(load)
    assert (load > 0).any()
    assert (load <= cap + 1e-6).all()
