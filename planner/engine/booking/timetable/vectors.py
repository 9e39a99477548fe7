"""Compiled arithmetic on draws: when a thing ends, and how often that is too late.

Vectors hold one value a draw, in minutes past the site-day's midnight. The loops keep to 32 bits
and count upwards over whole views, so that they are made into vector instructions; minutes are far
below 2**24, so that 32 bits hold them without loss.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled

Vector = NDArray[np.float32]


@compiled
def over(ends: Vector, limit: int) -> int:
    """How many draws are above ``limit``."""
    bar, count = np.float32(limit), np.int32(0)
    for i in range(ends.shape[0]):
        count += np.int32(ends[i] > bar)
    return int(count)


@compiled
def over_pair(a: Vector, b: Vector, limit: int) -> int:
    """How many draws have either vector above ``limit``."""
    bar, count = np.float32(limit), np.int32(0)
    for i in range(a.shape[0]):
        count += np.int32(max(a[i], b[i]) > bar)
    return int(count)


@compiled
def finish(a: Vector, b: Vector, own: int, minutes: int, ends: Vector) -> None:
    """Ends of a thing of certain length that waits for two others and for its own time."""
    first, length = np.float32(own), np.float32(minutes)
    for i in range(ends.shape[0]):
        ends[i] = max(a[i], b[i], first) + length


@compiled
def finish_each(a: Vector, b: Vector, own: np.float32, drawn: Vector, ends: Vector) -> None:
    """Ends of a booking whose length is drawn, draw by draw."""
    for i in range(ends.shape[0]):
        ends[i] = max(a[i], b[i], own) + drawn[i]


@compiled
def finish_drawn(a: Vector, b: Vector, own: int, drawn: Vector, turn: int, ends: Vector) -> None:
    """Ends of a booking; its draws are ``drawn`` turned by ``turn`` places."""
    cut, first = ends.shape[0] - turn, np.float32(own)
    finish_each(a[:cut], b[:cut], first, drawn[turn:], ends[:cut])
    finish_each(a[cut:], b[cut:], first, drawn[:turn], ends[cut:])


@compiled
def least_told(ends: Vector, told: int, grain: int, wait: int, allowed: int) -> int:
    """The first time at or after ``told``, on the grain, that keeps the waiting promise."""
    while over(ends, told + wait) > allowed:
        told += grain
    return told
