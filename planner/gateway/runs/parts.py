"""A run by regions, planned by as many workers as there are, joined and checked whole.

The worker that has the run splits the network, asks others to help, and plans parts itself until
none is left; so a run goes on where nobody comes. Sites that share anything are never split.
"""

from __future__ import annotations

import logging
import time
import zlib
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from django.conf import settings

from planner.engine.booking import Interrupted, Options, Progress, plan
from planner.engine.booking.breaks import with_breaks_in_shifts
from planner.engine.booking.fixed import check_fixed
from planner.engine.booking.regions import Together, join, share_out
from planner.engine.booking.regions.processes import RegionImpossible
from planner.engine.booking.regions.run import in_whole
from planner.engine.codec import decode_network, decode_plan, encode_network, encode_plan
from planner.engine.errors import NetworkImpossible
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.runs.patience import patiently
from planner.gateway.runs.watch import LeaseWatch
from sites.errors import Busy, ChangedMeanwhile
from sites.models import PartState, PlanRun, RunPart
from sites.selectors.runs import part_files, run_parts
from sites.services.parts import (
    Region,
    part_claim,
    part_finish,
    part_progress,
    part_release,
    parts_make,
    parts_requeue_lapsed,
)
from sites.services.runs import Standing

log = logging.getLogger(__name__)
LOOK = 0.5
"""Seconds between two looks at the parts that others have."""


def plan_with_others(
    run: int,
    attempt: int,
    network: Network,
    regions: tuple[Network, ...],
    options: Options,
    watch: LeaseWatch,
    call: Callable[[int], object],
) -> Plan:
    """Plan the regions of a network with other workers; ``call`` asks for so many of them.

    Raises what `plan` raises, ChangedMeanwhile where the run was given up, and Busy where a part
    was lost as often as a run may be.
    """
    check_fixed(with_breaks_in_shifts(network))
    sizes = [len(region.requests) for region in regions]
    shares = share_out(replace(options, workers=settings.RUN_WORKERS), sizes)
    asked = [
        Region(zlib.compress(encode_network(region)), size, share.seconds, share.effort)
        for region, size, share in zip(regions, sizes, shares, strict=True)
    ]
    patiently(lambda: parts_make(run=run, attempt=attempt, regions=asked))
    watch.standing = lambda: _together(run, len(regions))
    call(min(settings.RUN_WORKERS, len(regions)) - 1)
    while not _all_planned(run, len(regions), watch):
        try:
            worked = work_on_part(run, watch.worker, options, watch.stopped)
        except RegionImpossible as error:
            faults = in_whole(error.faults, regions[error.region], network)
            raise NetworkImpossible(faults) from error
        if not worked:
            time.sleep(LOOK)
    watch.standing = None
    watch.enter("join")
    files = patiently(lambda: part_files(run=run))
    plans = [
        decode_plan(zlib.decompress(made), region)
        for region, (_, made) in zip(regions, files, strict=True)
    ]
    return join(network, regions, plans, seed=options.seed, threads=options.workers)


def help_with(run: int, worker: str, ended: Callable[[], bool]) -> None:
    """Plan parts of a run that somebody else has, until none waits."""
    asked = patiently(lambda: PlanRun.objects.get(pk=run))
    try:
        while work_on_part(run, worker, options_of(asked), ended):
            pass
    except RegionImpossible as error:
        # Whoever has the run comes to the same end, and says so in its row.
        log.warning("run %s: %s", run, error)


def options_of(asked: PlanRun) -> Options:
    """What a run may spend, on this machine."""
    return Options(
        seconds=asked.seconds,
        effort=asked.effort,
        seed=asked.seed,
        workers=settings.RUN_PROCESSES,
    )


def work_on_part(run: int, worker: str, options: Options, ended: Callable[[], bool]) -> bool:
    """Plan the next part of a run that waits; whether there was one.

    A part that is stopped before it has a plan is given back. Raises RegionImpossible.
    """
    lease = timedelta(seconds=settings.RUN_LEASE)
    part = None
    if not ended():
        part = patiently(lambda: part_claim(run=run, worker=worker, lease=lease))
    if part is None:
        return False
    key, attempt = part.pk, part.attempt

    def tell(standing: Standing) -> bool:
        return part_progress(part=key, attempt=attempt, lease=lease, standing=standing)

    with LeaseWatch(f"part {part.number} of run {run}", tell, lease, ended, worker) as watch:
        try:
            _plan(part, options, watch)
        except ChangedMeanwhile as error:
            log.warning("part %s of run %s was given up (%s)", part.number, run, error)
    return True


def _plan(part: RunPart, options: Options, watch: LeaseWatch) -> None:
    network = decode_network(zlib.decompress(part.network))
    try:
        made = plan(network, replace(options, seconds=part.seconds, effort=part.effort), watch)
    except Interrupted:
        patiently(lambda: part_release(part=part.pk, attempt=part.attempt))
        return
    except NetworkImpossible as error:
        patiently(lambda: part_release(part=part.pk, attempt=part.attempt))
        raise RegionImpossible(error.faults, part.number) from error
    data = zlib.compress(encode_plan(made, network))
    standing = Standing("", made.objective, made.bound, made.gap, len(made.bookings))
    patiently(lambda: part_finish(part=part.pk, attempt=part.attempt, plan=data, standing=standing))


def _all_planned(run: int, count: int, watch: LeaseWatch) -> bool:
    """Whether every part has its plan. Raises Interrupted where some never will."""
    lost = patiently(lambda: parts_requeue_lapsed(run=run))
    if lost >= settings.RUN_MOST_LOST:
        raise Busy(f"a part of run {run}", f"was lost {lost} times", "see the log of the workers")
    states = patiently(lambda: [part.state for part in run_parts(run=run)])
    if len(states) != count:
        raise ChangedMeanwhile(f"run {run}", "has other parts now", "leave it to whoever has it")
    planned = all(state == PartState.DONE for state in states)
    others = PartState.PLANNING in states and watch.cancelled
    if watch.stopped() and not planned and not others:
        raise Interrupted
    return planned


def _together(run: int, count: int) -> Standing:
    """Where the parts stand, as one run's standing."""
    together = Together(count)
    for part in run_parts(run=run):
        if part.stage or part.state == PartState.DONE:
            told = Progress(part.stage, part.objective, part.bound, part.gap, part.booked, "", 0.0)
            together.hear(part.number, told)
        if part.state == PartState.DONE:
            together.end(part.number)
    told = together.progress(0.0)
    return Standing(told.stage, told.cost, told.bound, told.gap, told.booked or 0)
