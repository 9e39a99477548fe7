"""One site on one day as the planner sees it: who and what is free, minute by minute.

Times here are minutes past that day's midnight, 0 to 1440.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from planner.engine.network import Network, Shift, Station
from planner.engine.units import DAY

Ints = NDArray[np.int32]


@dataclass(frozen=True, slots=True)
class Worker:
    """One shift of one technician, on the day it touches.

    ``start`` and ``end`` are the shift's, cut to the day; ``break_minutes`` is 0 where this day
    has no break to place; the break lies in ``[break_start, break_end]``.
    """

    technician: int
    shift: int
    start: int
    end: int
    break_minutes: int
    break_start: int
    break_end: int


@dataclass(frozen=True, slots=True)
class Block:
    """Something that stands at a fixed time: a closed time, a fixed appointment, placed care.

    ``station`` and ``worker`` are places in the site-day's lists, -1 where none; ``profile`` is -1
    where the minutes are certain; ``request`` indexes the network's requests, -1 where none.
    """

    start: int
    minutes: int
    station: int
    worker: int
    profile: int = -1
    request: int = -1


@dataclass(slots=True)
class SiteDay:
    """A site on a day that it opens."""

    index: int
    site: int
    day: int
    opens: tuple[tuple[int, int], ...]
    stations: tuple[int, ...]
    workers: tuple[Worker, ...]
    closed: tuple[Block, ...]
    fixed: tuple[Block, ...] = ()
    reserve: int = 0
    station_run: Ints = field(init=False)
    worker_run: Ints = field(init=False)

    def __post_init__(self) -> None:
        is_open = np.zeros((len(self.stations), DAY + 1), dtype=np.int32)
        for start, end in self.opens:
            is_open[:, start:end] = 1
        for block in self.closed:
            is_open[block.station, block.start : block.start + block.minutes] = 0
        self.station_run = runs(is_open, {start for start, _ in self.opens})
        on_shift = np.zeros((len(self.workers), DAY + 1), dtype=np.int32)
        for place, worker in enumerate(self.workers):
            on_shift[place, worker.start : worker.end] = 1
        self.worker_run = runs(on_shift, set())

    @property
    def closes(self) -> int:
        """When the site closes for the day."""
        return max(end for _, end in self.opens)


def runs(free: Ints, cuts: set[int]) -> Ints:
    """How many minutes from each minute on are free without a break; shape as ``free``.

    Nothing runs across a minute in ``cuts`` (intervals that touch are still two).
    """
    end = free.shape[1]
    minute = np.arange(end, dtype=np.int32)
    # The next minute, from each on, that is not free; the last column never is.
    stop = np.where(free > 0, end - 1, minute)
    stop = np.minimum.accumulate(stop[:, ::-1], axis=1)[:, ::-1]
    cut = np.full(end, end - 1, dtype=np.int32)
    for at in sorted(cuts, reverse=True):
        cut[:at] = np.where(cut[:at] > at, at, cut[:at])
    return np.asarray(np.minimum(stop, cut) - minute, dtype=np.int32)


def _clip(start: int, end: int, base: int) -> tuple[int, int]:
    return max(0, start - base), min(DAY, end - base)


def day_opens(network: Network, site: int, day: int) -> tuple[tuple[int, int], ...]:
    """The opening intervals of a site that begin on a day, in minutes of that day, in order."""
    base = day * DAY
    return tuple(
        sorted(
            (window.start - base, window.end - base)
            for window in network.sites[site].open
            if window.start // DAY == day
        )
    )


def closed_blocks(
    station: Station, place: int, base: int, opens: tuple[tuple[int, int], ...]
) -> list[Block]:
    """Each closed time of a station, clipped to each opening interval that it meets."""
    blocks = []
    for closure in station.closed:
        for start, end in opens:
            low, high = max(start, closure.start - base), min(end, closure.end - base)
            if low < high:
                blocks.append(Block(low, high - low, place, -1))
    return sorted(blocks, key=lambda block: (block.start, block.minutes))


def break_day(shift: Shift) -> int:
    """The day on which a shift's break is placed: the first that has room for it."""
    for day in range(shift.break_start // DAY, shift.break_end // DAY + 1):
        start, end = _clip(shift.break_start, shift.break_end, day * DAY)
        if end - start >= shift.break_minutes:
            return day
    return shift.break_start // DAY


def day_worker(shift: Shift, technician: int, number: int, day: int) -> Worker | None:
    """A shift as a worker of one day, or None where it does not touch the day."""
    base = day * DAY
    start, end = _clip(shift.start, shift.end, base)
    if start >= end:
        return None
    minutes = shift.break_minutes if shift.break_minutes and break_day(shift) == day else 0
    low, high = _clip(shift.break_start, shift.break_end, base)
    return Worker(technician, number, start, end, minutes, low, high)
