"""Which day each care gets: the program's choice where it fits, else the next that does.

Where the quick way finds no day for some care of a site, the exact model decides: it places all
care of the site, or names the care that makes the network impossible.
"""

from __future__ import annotations

from planner.engine.booking.allocate.linear import Allocation
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block
from planner.engine.booking.timetable.carefit import fit_care
from planner.engine.booking.timetable.caremodel import place_site_care

CarePlaces = dict[int, tuple[int, Block]]


def place_care(problem: Problem, options: Options, allocation: Allocation) -> CarePlaces:
    """A day and time for every care. Raises NetworkImpossible, naming care that has none."""
    network = problem.network
    by_site: dict[int, list[int]] = {}
    for c, item in enumerate(network.care):
        station = problem.index.station[item.station]
        by_site.setdefault(problem.index.site[network.stations[station].site], []).append(c)
    places: CarePlaces = {}
    for site, cares in by_site.items():
        found = _quick(problem, options, allocation, cares)
        places.update(found if found is not None else place_site_care(problem, site, cares))
    return places


def _quick(
    problem: Problem, options: Options, allocation: Allocation, cares: list[int]
) -> CarePlaces | None:
    requests = len(problem.network.requests)
    standing: dict[int, list[Block]] = {}
    places: CarePlaces = {}
    order = sorted(cares, key=lambda c: (_days(options, requests + c), c))
    for c in order:
        job = requests + c
        span = range(options.first[job], options.first[job + 1])
        share: dict[int, float] = {}
        for o in span:
            g = int(options.siteday[o])
            share[g] = share.get(g, 0.0) + allocation.share.get(o, 0.0)
        for g in sorted(share, key=lambda g: (-share[g], g)):
            siteday = problem.sitedays[g]
            beside = standing.setdefault(g, list(siteday.fixed))
            block = fit_care(problem, siteday, c, beside)
            if block is not None:
                beside.append(block)
                places[c] = (g, block)
                break
        else:
            return None
    return places


def _days(options: Options, job: int) -> int:
    return int(options.first[job + 1] - options.first[job])
