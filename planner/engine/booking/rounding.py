"""From shares to places: every request goes where the program puts most of it."""

from __future__ import annotations

import numpy as np

from planner.engine.booking.allocate.linear import Allocation
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.care import CarePlaces
from planner.engine.booking.draft import Draft, pin_of
from planner.engine.booking.problem import Problem
from planner.engine.booking.timetable.demand import Demand, Timetable


def round_shares(problem: Problem, options: Options, allocation: Allocation) -> Draft:
    """A draft with places but no timetables yet.

    A request takes the option of its largest share; it is left out only where that share is
    larger than any option's.
    """
    requests = len(problem.network.requests)
    place = np.full(requests, -1, dtype=np.int64)
    best = np.zeros(requests)
    total = np.zeros(requests)
    for option, share in allocation.share.items():
        r = int(options.request[option])
        if r >= requests:
            continue
        total[r] += share
        if share > best[r] + 1e-9:
            best[r], place[r] = share, option
    place[1.0 - total > best] = -1
    days = [Timetable(siteday.index) for siteday in problem.sitedays]
    return Draft(problem, options, place, days)


def first_demands(draft: Draft, care: CarePlaces) -> list[Demand]:
    """What every site-day is asked to hold under the draft's places, one entry a site-day.

    Movable appointments that stay are pinned; one that cannot stay any more becomes a job.
    """
    problem, options = draft.problem, draft.options
    jobs: list[list[int]] = [[] for _ in problem.sitedays]
    for option in draft.place[draft.place >= 0].tolist():
        jobs[int(options.siteday[option])].append(option)
    cares: list[list[int]] = [[] for _ in problem.sitedays]
    for c, (g, _) in sorted(care.items()):
        cares[g].append(c)
    demands = []
    for g, chosen in enumerate(jobs):
        pinned, free = [], []
        for option in chosen:
            block = None
            if options.stay[option]:
                block = pin_of(
                    problem, g, int(options.request[option]),
                    int(options.minutes[option]), int(options.profile[option]),
                )  # fmt: skip
            if block is not None:
                pinned.append(block)
            elif not options.stay[option]:
                free.append(draft.job(option))
            else:
                draft.place[int(options.request[option])] = -1
        demands.append(Demand(tuple(free), tuple(pinned), tuple((c, care[c][1]) for c in cares[g])))
    return demands
