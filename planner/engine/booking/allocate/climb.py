"""Least value of a smooth convex function of prices that are at least 0.

Limited-memory BFGS in the variables that are free, projected on the bound: two-metric projection
after Bertsekas (1982, doi:10.1137/0320018), the two-loop recursion after Nocedal (1980,
doi:10.1090/S0025-5718-1980-0572855-7); both from memory. SciPy's L-BFGS-B takes steps as good, and
several times as long over them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from planner.engine.compiled import compiled

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Value = Callable[[Floats], tuple[float, Floats]]

MEMORY = 20
"""Pairs of steps and changes of slope that are remembered."""
ENOUGH = 1e-4
"""The share of the promised fall that a step has to bring."""
SHORTEST = 1e-6
"""Steps shorter than this share of the full one are not tried."""
SHORTER = 0.4
FIRST = 0.02
"""The largest change of a price (cost a minute) in a first step."""
PAST = 10


def climb_down(value: Value, start: Floats, rounds: int, tolerance: float) -> Floats:
    """Where ``value`` (which gives value and gradient) is least, after ``rounds`` evaluations.

    Ends early where ten steps together bring less than ``tolerance`` of the value.
    """
    x = np.maximum(start, 0.0)
    f, g = value(x)
    spent, count = 1, 0
    steps, turns = np.zeros((MEMORY, len(x))), np.zeros((MEMORY, len(x)))
    past: deque[float] = deque([f], maxlen=PAST)
    while spent < rounds:
        free = (x > 0) | (g < 0)
        slope = np.where(free, g, 0.0)
        step = np.empty_like(slope)
        promised = _direction(slope, free, steps, turns, count, step)
        length, moved = 1.0, False
        while length > SHORTEST and spent < rounds and promised < 0:
            tried = np.maximum(x + length * step, 0.0)
            new_f, new_g = value(tried)
            spent += 1
            if new_f <= f + ENOUGH * float(np.sum(slope * (tried - x))):
                moved = True
                break
            length *= SHORTER
        if not moved:
            if not count:
                break
            count = 0
            continue
        steps[count % MEMORY], turns[count % MEMORY] = tried - x, new_g - g
        count += 1
        x, f, g = tried, new_f, new_g
        if len(past) == PAST and past[0] - f <= tolerance * abs(f):
            break
        past.append(f)
    return x


@compiled
def _direction(  # noqa: PLR0912
    slope: Floats, free: Bools, steps: Floats, turns: Floats, count: int, step: Floats
) -> float:
    """Write minus the inverse curvature times the slope, in the free variables; returns the fall.

    Pairs count as far as they lie in the free variables. With none that curve upwards the slope
    itself is followed, its largest part cut to `FIRST`.
    """
    memory, n = steps.shape
    weights = np.zeros(memory)
    curvature = np.zeros(memory)
    step[:] = slope
    kept, scale = min(count, memory), 0.0
    for back in range(kept):
        k = (count - 1 - back) % memory
        along, turned, a = 0.0, 0.0, 0.0
        for i in range(n):
            if free[i]:
                along += steps[k, i] * turns[k, i]
                turned += turns[k, i] * turns[k, i]
                a += steps[k, i] * step[i]
        if along <= 1e-10 * turned or turned == 0.0:
            continue
        if scale == 0.0:
            scale = along / turned
        curvature[k], weights[k] = along, a / along
        for i in range(n):
            if free[i]:
                step[i] -= weights[k] * turns[k, i]
    if scale == 0.0:
        largest = 1e-12
        for i in range(n):
            largest = max(largest, abs(slope[i]))
        scale = FIRST / largest
    for i in range(n):
        step[i] *= scale
    for back in range(kept - 1, -1, -1):
        k = (count - 1 - back) % memory
        if curvature[k] == 0.0:
            continue
        b = 0.0
        for i in range(n):
            if free[i]:
                b += turns[k, i] * step[i]
        b /= curvature[k]
        for i in range(n):
            if free[i]:
                step[i] += (weights[k] - b) * steps[k, i]
    fall = 0.0
    for i in range(n):
        step[i] = -step[i] if free[i] else 0.0
        fall += step[i] * slope[i]
    return fall
