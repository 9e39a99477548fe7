"""The planned length: the shortest that keeps both promises in a row of sessions."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.sessions import grid
from planner.engine.sessions.length import SessionLength, session_length

if TYPE_CHECKING:
    from planner.engine.network import Policy, Profile

ROW = 12
"""Sessions in the row by which planned minutes are defined."""
NONE = 1e-9  # a probability below this counts as none


@dataclass(frozen=True, slots=True)
class RowRisks:
    """What a row of back-to-back sessions risks.

    ``waits[i]`` is P(session i starts more than ``wait_minutes`` after its told time),
    ``overtime`` P(the last ends more than ``overtime_minutes`` after the row's planned end).
    """

    waits: tuple[float, ...]
    overtime: float


def row_risks(profile: Profile, policy: Policy, grain: int, minutes: int) -> RowRisks:
    """The risks of a row planned at ``minutes`` each, exact on the grid.

    Session i is planned at i · ``minutes`` and told that rounded down to the grain; it starts at
    its told time or when the one before has ended, whichever is later; a no-show takes 0 minutes
    (Lindley, *Proc. Cambridge Phil. Soc.* 48 (1952) 277-289; from memory).
    """
    waits, overtime = _row(session_length(profile), policy, grain, minutes, ROW, stop=False)
    return RowRisks(tuple(waits), overtime)


@lru_cache(maxsize=4096)
def planned_minutes(profile: Profile, policy: Policy, grain: int, row: int = ROW) -> int:
    """The shortest whole minutes, at least 1, that keep both promises in a row of ``row`` sessions.

    Fewer in the row give shorter minutes: lateness has had less time to add up.
    Lengths shorter than a proven lower bound are not tried: session i cannot start before the i
    lengths ahead of it are over, whatever was told. The search ends at the latest at the longest
    possible length plus the grain, where nobody waits and nothing ends late.
    """
    length = session_length(profile)
    minutes = _least(length, policy, row)
    while not _keeps(length, policy, grain, minutes, row):
        minutes += 1
    return minutes


def _keeps(length: SessionLength, policy: Policy, grain: int, minutes: int, row: int) -> bool:
    waits, overtime = _row(length, policy, grain, minutes, row, stop=True)
    return waits[-1] <= policy.wait_risk + NONE and overtime <= policy.overtime_risk + NONE


def _row(
    length: SessionLength, policy: Policy, grain: int, minutes: int, row: int, *, stop: bool
) -> tuple[list[float], float]:
    """Wait risks and overtime risk; with ``stop``, only up to the first wait promise broken."""
    a_minute = round(1 / length.step)
    patience = policy.wait_minutes * a_minute
    delay = np.ones(1)  # of the start after the told time, in cells
    waits = []
    for i in range(row):
        waits.append(grid.beyond(delay, patience, length.smooth))
        if stop and waits[-1] > policy.wait_risk + NONE:
            return waits, 0.0
        done = grid.convolve(delay, length.booked_pmf)
        told, following = i * minutes, (i + 1) * minutes
        told -= told % grain
        if i == row - 1:
            late = (following - told + policy.overtime_minutes) * a_minute
            return waits, grid.beyond(done, late, length.smooth)
        delay = grid.after(done, (following - following % grain - told) * a_minute)
    raise AssertionError("a row has at least one session")


def _least(length: SessionLength, policy: Policy, row: int) -> int:
    """A lower bound of the planned minutes.

    Start of session i ≥ S_i, the sum of i lengths, and told time ≤ i · L; so P(S_i > i · L +
    wait) ≤ wait risk is needed for 0 < i < n in a row of n, and likewise P(S_n > n · L + overtime)
    ≤ overtime risk.
    """
    least, total = 1, np.ones(1)
    for i in range(1, row + 1):
        total = grid.convolve(total, length.booked_pmf)
        last = i == row
        risk = policy.overtime_risk if last else policy.wait_risk
        slack = policy.overtime_minutes if last else policy.wait_minutes
        beyond = np.cumsum(total[::-1])[::-1]  # P(S_i >= cell)
        # one cell is given away so that rounding cannot push the bound over the answer
        cell = int(np.count_nonzero(beyond > risk + 2 * NONE)) - 2
        least = max(least, math.ceil((cell * length.step - slack) / i - 1e-9))
    return least
