"""Compiled arithmetic on draws: when a thing ends, and how often that is too late.

Vectors hold one value a draw, in minutes past the site-day's midnight.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled

Vector = NDArray[np.float32]


@compiled
def over(ends: Vector, limit: float) -> int:
    """How many draws are above ``limit``."""
    count = 0
    for i in range(ends.shape[0]):
        count += ends[i] > limit
    return count


@compiled
def over_pair(a: Vector, b: Vector, limit: float) -> int:
    """How many draws have either vector above ``limit``."""
    count = 0
    for i in range(a.shape[0]):
        count += (a[i] > limit) | (b[i] > limit)
    return count


@compiled
def finish(a: Vector, b: Vector, own: float, minutes: float, ends: Vector) -> None:
    """Ends of a thing of certain length that waits for two others and for its own time."""
    for i in range(ends.shape[0]):
        ends[i] = max(a[i], b[i], own) + minutes


@compiled
def finish_drawn(a: Vector, b: Vector, own: float, drawn: Vector, turn: int, ends: Vector) -> None:
    """Ends of a booking; its draws are ``drawn`` turned by ``turn`` places."""
    n = ends.shape[0]
    for i in range(n):
        k = i + turn
        if k >= n:
            k -= n
        ends[i] = max(a[i], b[i], own) + drawn[k]


@compiled
def least_told(ends: Vector, told: int, grain: int, wait: int, allowed: int) -> int:
    """The first time at or after ``told``, on the grain, that keeps the waiting promise."""
    while over(ends, told + wait) > allowed:
        told += grain
    return told
