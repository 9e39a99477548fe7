"""A run by regions: split, planned apart on several processes, joined and checked whole."""

from __future__ import annotations

import re
import time
from collections.abc import Callable

from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.regions.join import join
from planner.engine.booking.regions.processes import Part, RegionImpossible, plan_apart
from planner.engine.booking.regions.shares import share_out
from planner.engine.booking.regions.split import split
from planner.engine.booking.run import plan
from planner.engine.booking.watch import Options, Quiet, Watch
from planner.engine.errors import Fault, NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan

LEAST = 200
"""Requests that make a region worth a run of its own."""
_PLACE = re.compile(r"^(requests|technicians|care|appointments)\[(\d+)\]")


def plan_regions(
    network: Network,
    options: Options,
    watch: Watch | None = None,
    clock: Callable[[], float] = time.monotonic,
    *,
    least: int = LEAST,
) -> Plan:
    """`plan`, with independent regions planned apart on ``options.workers`` processes.

    A network that hangs together is planned as a whole. Under ``effort`` the plan is the same
    whatever the number of workers.

    Parameters
    ----------
    network, options, watch, clock
        As `plan` has them.
    least
        Regions of fewer requests are put together, see `split`.

    Raises
    ------
    NetworkImpossible
        With every fixed appointment that no plan can honour; or with the care of one region.
    Interrupted
        Where the watch ended the run before every region had a plan.
    PlanUnsound
        Where a plan failed its check: a fault of the program.

    """
    regions = split(network, least=least)
    if len(regions) == 1:
        return plan(network, options, watch, clock)
    check_fixed(with_breaks_in_shifts(network))
    asked = share_out(options, [len(region.requests) for region in regions])
    parts = [Part(k, *each) for k, each in enumerate(zip(regions, asked, strict=True))]
    try:
        plans = plan_apart(parts, options.workers, watch or Quiet(), clock)
    except RegionImpossible as error:
        raise NetworkImpossible(in_whole(error.faults, regions[error.region], network)) from error
    return join(network, regions, plans, seed=options.seed, threads=options.workers)


def in_whole(faults: tuple[Fault, ...], region: Network, whole: Network) -> list[Fault]:
    """The faults of a region with the places that they have in the whole network's file."""

    def place(match: re.Match[str]) -> str:
        part = getattr(region, match[1])[int(match[2])]
        number = next(k for k, item in enumerate(getattr(whole, match[1])) if item.id == part.id)
        return f"{match[1]}[{number}]"

    return [Fault(_PLACE.sub(place, fault.path), fault.problem, fault.remedy) for fault in faults]
