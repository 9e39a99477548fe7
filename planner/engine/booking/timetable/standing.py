"""What stands on a day before jobs are placed: pinned appointments, and room for breaks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.breaks import latest_free
from planner.engine.booking.siteday import Block, SiteDay, Worker
from planner.engine.booking.timetable.demand import Demand
from planner.engine.network import Shift

Ints = NDArray[np.int32]


def latest_break(worker: Worker, blocks: Ints) -> int:
    """The latest start of a worker's break among blocks of theirs; -1 where there is none."""
    busy = [(int(row[0]), int(row[0] + row[1])) for row in blocks]
    shift = Shift(
        "", worker.start, worker.end, worker.break_minutes, worker.break_start, worker.break_end
    )
    latest = latest_free(shift, busy)
    return -1 if latest is None else latest


def allowed(risk: float, draws: int, guard: float) -> int:
    """Draws that may break a promise: the risk less ``guard`` standard errors of its estimate."""
    if risk >= 1:
        return draws
    error = (risk * (1 - risk) / draws) ** 0.5
    return max(0, int((risk - guard * error) * draws))


def settle_pins(
    siteday: SiteDay, demand: Demand, plain: int, rework: set[int]
) -> tuple[tuple[Block, ...], tuple[Block, ...]]:
    """Pinned blocks that can stand beside what is fixed, in order, and those that cannot.

    ``plain`` is how many minutes those not in ``rework`` (requests) may take.
    """
    taken = list(siteday.fixed) + [block for _, block in demand.care]
    keep: list[Block] = []
    drop: list[Block] = []
    for block in sorted(demand.pinned, key=lambda item: (item.start, item.station)):
        clash = any(
            block.start < other.start + other.minutes
            and other.start < block.start + block.minutes
            and (block.station == other.station or block.worker == other.worker)
            for other in taken
        )
        if block.request not in rework:
            clash = clash or block.minutes > plain
        worker = siteday.workers[block.worker]
        if not clash and worker.break_minutes:
            mine = [b for b in [*taken, block] if b.worker == block.worker]
            rows = np.array([(b.start, b.minutes) for b in mine], dtype=np.int32).reshape(-1, 2)
            clash = latest_break(worker, rows) < 0
        (drop if clash else keep).append(block)
        if not clash:
            taken.append(block)
            plain -= 0 if block.request in rework else block.minutes
    return tuple(keep), tuple(drop)
