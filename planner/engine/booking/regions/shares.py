"""What each region may spend of what the whole run may."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.engine.booking.watch import DEFAULT_SECONDS, Options


def share_out(options: Options, sizes: Sequence[int]) -> tuple[Options, ...]:
    """Options for regions of these ``sizes`` (requests), in their order.

    Seconds are those that let ``options.workers`` end together: the regions are dealt to them,
    the largest first, each to whoever has least, and share the time of theirs by size. Effort is
    shared by size alone, so that the plan does not depend on the number of workers. Workers
    beyond the number of regions go to the largest.
    """
    weights = [max(1, size) for size in sizes]
    workers = _workers(weights, max(1, options.workers))
    if options.effort is not None:
        total = sum(weights)
        return tuple(
            replace(options, effort=max(1, round(options.effort * weight / total)), workers=count)
            for weight, count in zip(weights, workers, strict=True)
        )
    seconds = options.seconds if options.seconds is not None else DEFAULT_SECONDS
    with_whom, load = _dealt(weights, max(1, options.workers))
    return tuple(
        replace(options, seconds=seconds * weight / load[lane], workers=count)
        for weight, lane, count in zip(weights, with_whom, workers, strict=True)
    )


def _workers(weights: Sequence[int], workers: int) -> list[int]:
    """One for each, and those that are left one by one to whoever has most requests for each."""
    found = [1] * len(weights)
    for _ in range(workers - len(weights)):
        most = max(range(len(weights)), key=lambda k: weights[k] / found[k])
        found[most] += 1
    return found


def _dealt(weights: Sequence[int], workers: int) -> tuple[list[int], list[int]]:
    """Each region's worker, and the requests that each worker has."""
    load = [0] * workers
    with_whom = [0] * len(weights)
    for k in sorted(range(len(weights)), key=lambda k: -weights[k]):
        lane = min(range(workers), key=lambda w: load[w])
        with_whom[k] = lane
        load[lane] += weights[k]
    return with_whom, load
