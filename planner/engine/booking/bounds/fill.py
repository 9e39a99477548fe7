"""What one person, or one station, may do in a free stretch of a day and keep its promises.

Whole sessions with their lengths as they are drawn, in whatever order suits best (MODEL.md, L6):
all that is rounded lets more sessions pass, so that what is found is never too little.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.fft import irfft, next_fast_len, rfft

from planner.engine.network import Policy
from planner.engine.sessions.length import SessionLength

Floats = NDArray[np.float64]
Longs = NDArray[np.int64]

UNIT = 0.25
"""Weights are whole multiples of this, in minutes."""
CELLS = 24
"""Cells of a minute: 2.5 seconds, half the coarsest grid of lengths, whose cell stands for half a
step to either side."""
TAIL = 1e-9
"""Chance of a length that is taken for a shorter one; sums are exact to less than that."""
OFTEN = 0.5
"""Where so many may wait too long, lateness has no end, and is kept up to the end of the room."""
NEVER = 1 << 40


@dataclass(frozen=True, slots=True)
class Row:
    """A free stretch, in minutes from its beginning (a multiple of the grain).

    Planned minutes add up to ``planned`` at most; the last session ends by ``room`` but for the
    risk of overtime, and is planned to end by ``last``.
    """

    planned: int
    room: int
    last: int


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of session: its planned minutes (at least 1), its length, its weight in units."""

    minutes: int
    length: SessionLength
    weight: int


@dataclass(frozen=True, slots=True)
class Fill:
    """The least that sessions take which weigh so much together, whatever they are.

    Entry v is for a weight of v units, in minutes: ``planned`` what is planned in all, ``end`` when
    all is over but for the risk of overtime, ``last`` the earliest planned end, ``told`` the
    earliest time that whoever comes next may be told. `NEVER` where nothing weighs so much, or
    nothing that does would fit.
    """

    planned: Longs
    end: Floats
    last: Longs
    told: Longs

    def most(self, row: Row) -> int:
        """The largest weight that ``row`` holds, in units."""
        fits = (self.planned <= row.planned) & (self.end <= row.room) & (self.last <= row.last)
        return int(np.flatnonzero(fits)[-1])


def fill(kinds: Sequence[Kind], policy: Policy, grain: int, limit: Row) -> Fill:
    """What ``kinds`` of session can fill, up to what ``limit`` holds.

    For each weight E, the end of sessions that weigh so much, is known as a distribution that is
    nowhere later than that of any of them in any order: cell by cell the best chance of all kinds
    that may come last. Whoever comes next begins when they are told at the earliest, t, which keeps
    the promise only where P(E > t + wait) is at most the risk; so they end at max(E, t) and their
    own length.
    """
    waves = _Waves(kinds, policy, limit)
    block, reach = min(kind.weight for kind in kinds), max(kind.weight for kind in kinds)
    zero = np.zeros(1, dtype=np.int64)
    found, start = Fill(zero, np.zeros(1), zero, zero), np.eye(1, waves.window)
    while (found.told[-reach:] < NEVER).any():
        more, begun = _next(found, start, block, kinds, waves, policy, grain, limit)
        start = np.concatenate([start, begun])[-reach:]
        found = Fill(
            planned=np.concatenate([found.planned, more.planned]),
            end=np.concatenate([found.end, more.end]),
            last=np.concatenate([found.last, more.last]),
            told=np.concatenate([found.told, more.told]),
        )
    return found


class _Waves:
    """The kinds' lengths as transforms, and the width in which ends are kept, in cells."""

    def __init__(self, kinds: Sequence[Kind], policy: Policy, limit: Row) -> None:
        cells = [_cells(kind.length) for kind in kinds]
        longest = max(len(each) for each in cells)
        late = policy.wait_minutes * CELLS + longest if policy.wait_risk < OFTEN else math.inf
        self.window = int(min(late, (limit.room + 1) * CELLS))
        self.size = int(next_fast_len(self.window + longest, real=True))
        self.of = [rfft(each, self.size) for each in cells]

    def ends(self, start: Floats, kind: int) -> Floats:
        """P(end at most a cell), counted from told on, of one more session of a kind."""
        found: Floats = np.cumsum(irfft(rfft(start, self.size) * self.of[kind], self.size), axis=1)
        return found


def _cells(length: SessionLength) -> Floats:
    """P(a booking takes so many cells), each value at the least that its grid's cell stands for."""
    value = np.maximum(
        np.arange(len(length.booked_pmf)) * length.step - length.smooth * length.step / 2, 0.0
    )
    place = np.floor(value * CELLS + 1e-9).astype(np.int64)
    found = np.bincount(place, weights=length.booked_pmf).astype(np.float64)
    kept = int(np.searchsorted(np.cumsum(found), 1 - TAIL)) + 1
    found = found[:kept]
    found[-1] += max(0.0, 1 - float(found.sum()))
    return found


def _next(
    made: Fill, start: Floats, block: int, kinds: Sequence[Kind], waves: _Waves, policy: Policy,
    grain: int, limit: Row,
) -> tuple[Fill, Floats]:  # fmt: skip
    """The next ``block`` of weights, which need only those that are made, and their ``start``.

    ``start`` is the distribution of max(E, told), in cells from told on, of the last weights made.
    """
    weight = np.arange(len(made.told), len(made.told) + block)
    planned, last = np.full((2, block), NEVER)
    end, ready = np.full((2, block), np.inf)
    ends = []
    for place, kind in enumerate(kinds):
        before = weight - kind.weight
        some = np.flatnonzero((before >= 0) & (made.told[np.maximum(before, 0)] < NEVER))
        if not len(some):
            continue
        old = before[some]
        base = made.told[old]
        chance = waves.ends(start[old - len(made.told)], place)
        ends.append((some, base, chance))
        planned[some] = np.minimum(planned[some], made.planned[old] + kind.minutes)
        last[some] = np.minimum(last[some], np.maximum(made.last[old], base) + kind.minutes)
        end[some] = np.minimum(end[some], base + _reached(chance, policy.overtime_risk))
        ready[some] = np.minimum(ready[some], base + _reached(chance, policy.wait_risk))
    fits = (planned <= limit.planned) & (end <= limit.room) & (last <= limit.last)
    told = np.full(block, NEVER)
    waited = np.ceil((ready[fits] - policy.wait_minutes - 1e-9) / grain) * grain
    told[fits] = np.maximum(waited.astype(np.int64), last[fits] // grain * grain)
    best = np.zeros((block, waves.window))
    for some, base, chance in ends:
        at = (told[some] - base)[:, None] * CELLS + np.arange(waves.window)
        there = np.take_along_axis(chance, np.clip(at, 0, chance.shape[1] - 1), axis=1)
        best[some] = np.maximum(best[some], np.where(at >= 0, there, 0.0))
    best[:, -1] = 1.0  # what is later counts as then: sooner than it is
    end[~fits], last[~fits] = np.inf, NEVER
    return Fill(planned, end, last, told), np.diff(best, axis=1, prepend=0.0)


def _reached(chance: Floats, risk: float) -> Floats:
    """The minute by which all but ``risk`` has ended; ``chance`` is by cells, a row a weight."""
    found: Floats = np.argmax(chance >= 1 - risk - TAIL, axis=1) / CELLS
    return found
