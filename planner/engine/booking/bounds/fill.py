"""The most that a row of sessions can bring while it keeps its promise of overtime (MODEL.md).

Whole sessions only, and their lengths as they are drawn: exact up to roundings that all let more
sessions pass, so what is found is never too little.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled
from planner.engine.sessions.length import SessionLength

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]
Waves = NDArray[np.complex128]

STEP = 2.5
"""Seconds: half the coarsest grid of lengths: a cell stands for half a step to either side."""
WAVES = 512
"""Frequencies that are summed; what the others could add is counted as if it all helped. All are
summed where that is much, as it is where sessions take constant times."""
MUCH = 2e-3
FEW = 12
"""Sessions whose sum is looked at to tell."""
SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Row:
    """What one person, or one station, may do in one free interval of a day, in minutes.

    All sessions end within ``room`` with probability ``1 - risk`` at least. The last begins at most
    ``wait`` less its planned minutes after the first with probability ``1 - wait_risk`` at least.
    Planned minutes add up to at most ``planned``.
    """

    planned: int
    room: int
    risk: float
    wait: int
    wait_risk: float


def most(lengths: list[SessionLength], minutes: list[int], weights: list[float], row: Row) -> float:
    """The largest sum of ``weights`` over whole numbers of sessions that ``row`` may hold.

    ``minutes`` are planned, at least 1; all three lists have an entry a kind of session.
    """
    span = max(row.room, row.wait, 60) * 60 / STEP
    cells = 1 << math.ceil(math.log2(1.25 * span))
    waves = np.stack([_waves(length, cells) for length in lengths])
    within = np.stack([_within(cells, row.room), *(_within(cells, row.wait - m) for m in minutes)])
    largest, others = np.abs(waves).max(axis=0), np.abs(within)
    summed = WAVES
    if float(np.max(np.sum(others[:, WAVES:] * largest[WAVES:] ** FEW, axis=1))) > MUCH:
        summed = waves.shape[1]
    top = row.planned // min(minutes) + 1
    powers: Waves = np.ones((len(lengths), top + 1, summed), dtype=np.complex128)
    for count in range(1, top + 1):
        powers[:, count] = powers[:, count - 1] * waves[:, :summed]
    beyond = np.empty((len(within), top + 1))
    missed = others[:, summed:].copy()
    for count in range(top + 1):
        beyond[:, count] = missed.sum(axis=1)
        missed *= largest[summed:]
    kept = np.array([1.0 - row.risk, *([1.0 - row.wait_risk] * len(minutes))]) - SLACK
    return float(
        _search(
            powers, within[:, :summed].copy(), beyond, np.array(minutes, dtype=np.int64),
            np.array(weights), row.planned, kept,
        )
    )  # fmt: skip


def _waves(length: SessionLength, cells: int) -> Waves:
    """The transform of a booking's length, each value at the least that its cell stands for."""
    value = np.arange(len(length.booked_pmf)) * length.step * 60
    if length.smooth:
        value = np.maximum(value - length.step * 30, 0.0)
    place = np.floor(value / STEP + 1e-9).astype(np.int64) % cells
    found: Waves = np.fft.rfft(np.bincount(place, weights=length.booked_pmf, minlength=cells))
    return found


def _within(cells: int, minutes: int) -> Waves:
    """Weights of a transform that give P(sum is at most ``minutes``), as a real part."""
    indicator = np.zeros(cells)
    indicator[: max(0, math.floor(minutes * 60 / STEP) + 1)] = 1.0
    weights: Waves = np.fft.rfft(indicator).conjugate() * (2 / cells)
    weights[0] /= 2
    weights[-1] /= 2
    return weights


@compiled
def _chance(within: Waves, before: Waves, power: Waves) -> float:
    total = 0.0
    for f in range(within.shape[0]):
        total += (within[f] * before[f] * power[f]).real
    return total


@compiled
def _keeps(
    powers: Waves, within: Waves, beyond: Floats, kept: Floats, partial: Waves, count: Longs,
    n: int,
) -> bool:  # fmt: skip
    """Whether so many sessions, ``n`` of the last kind, keep both promises."""
    kinds = powers.shape[0]
    sessions = n
    for k in range(kinds - 1):
        sessions += count[k]
    before = partial[kinds - 1]
    if _chance(within[0], before, powers[kinds - 1, n]) + beyond[0, sessions] < kept[0]:
        return False
    if sessions == 0:
        return True
    fewer = np.empty(powers.shape[2], dtype=np.complex128)
    for last in range(kinds):
        if last == kinds - 1:
            if n and _chance(within[kinds], before, powers[last, n - 1]) >= (
                kept[kinds] - beyond[kinds, sessions - 1]
            ):
                return True
        elif count[last]:
            fewer[:] = 1.0
            for k in range(kinds - 1):
                one = count[k] - 1 if k == last else count[k]
                for f in range(powers.shape[2]):
                    fewer[f] *= powers[k, one, f]
            if _chance(within[last + 1], fewer, powers[kinds - 1, n]) >= (
                kept[last + 1] - beyond[last + 1, sessions - 1]
            ):
                return True
    return False


@compiled
def _search(
    powers: Waves, within: Waves, beyond: Floats, minutes: Longs, weights: Floats,
    planned: int, kept: Floats,
) -> float:  # fmt: skip
    """Every number of all kinds but the last, and of the last only those that would be better."""
    kinds = powers.shape[0]
    count = np.zeros(kinds, dtype=np.int64)
    partial = np.ones((kinds, powers.shape[2]), dtype=np.complex128)
    best = 0.0
    last = kinds - 1
    while True:
        used, weight = 0, 0.0
        for k in range(last):
            used += count[k] * minutes[k]
            weight += count[k] * weights[k]
        over = used > planned
        n = max(0, int(np.floor((best - weight) / weights[last])))
        while not over and used + n * minutes[last] <= planned:
            better = weight + n * weights[last]
            if better > best + 1e-12:
                if not _keeps(powers, within, beyond, kept, partial, count, n):
                    over = n == 0
                    break
                best = better
            n += 1
        # The next numbers: one more of the last kind but one, or of an earlier one.
        k = last - 1
        if over:
            while k >= 0 and count[k] == 0:
                k -= 1
            if k >= 0:
                count[k] = 0
                k -= 1
        if k < 0:
            return best
        count[k] += 1
        for j in range(k, last):
            for f in range(powers.shape[2]):
                partial[j + 1, f] = partial[j, f] * powers[j, count[j], f]
