"""Distributions on an even grid: splitting, convolving, raising to a power, cutting the tail.

A distribution is a float64 array ``p`` with ``p[i]`` = P(value = i · step), starting at 0. All
functions lump what lies past ``CAP_MINUTES`` in the last cell, so that sizes stay bounded.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy import fft, special

Floats: TypeAlias = NDArray[np.float64]

CAP_MINUTES = 2880  # opening times end within their day: no length near two days can be planned
TAIL = 1e-14  # mass cut from the end after one operation; a whole session loses less than 1e-12
_DIRECT = 48  # below this many cells a plain convolution is quicker than a transform


def trim(p: Floats, cells: int) -> Floats:
    """``p`` scaled to sum 1, lumped at ``cells`` and without the last ``TAIL`` of its mass."""
    if len(p) > cells:
        p = np.append(p[: cells - 1], p[cells - 1 :].sum())
    p = np.maximum(p, 0.0)
    beyond = np.cumsum(p[::-1])[::-1]
    kept = max(int(np.count_nonzero(beyond > TAIL)), 1)
    result: Floats = p[:kept] / p[:kept].sum()
    return result


def convolve(a: Floats, b: Floats) -> Floats:
    """The distribution of a sum of two independent values, untrimmed."""
    size = len(a) + len(b) - 1
    if min(len(a), len(b)) <= _DIRECT:
        direct: Floats = np.convolve(a, b)
        return direct
    padded = fft.next_fast_len(size, real=True)
    product = fft.rfft(a, padded) * fft.rfft(b, padded)
    result: Floats = np.maximum(fft.irfft(product, padded)[:size], 0.0)
    return result


def power(p: Floats, count: int, cells: int) -> Floats:
    """The distribution of the sum of ``count`` independent values, by repeated squaring."""
    result = np.ones(1)
    while count:
        if count & 1:
            result = trim(convolve(result, p), cells)
        count >>= 1
        if count:
            p = trim(convolve(p, p), cells)
    return result


def split(values: Floats, weights: Floats, step: float, cells: int) -> Floats:
    """Values with probabilities, each shared between its two neighbours: the mean is kept."""
    place = np.minimum(values / step, cells - 1)
    near = np.round(place)
    place = np.where(np.abs(place - near) < 1e-9, near, place)  # 35 s / 5 s is cell 7, not 6.999…
    low = np.floor(place).astype(np.int64)
    share = place - low
    p = np.zeros(int(low.max()) + 2)
    np.add.at(p, low, weights * (1.0 - share))
    np.add.at(p, low + 1, weights * share)
    return trim(p, cells)


def constant(mean: float, sd: float) -> float | None:
    """The one value that a gamma distribution is taken as, or None where it has a density.

    With hardly any spread that is the mean. With a spread a million times the mean all but 1e-10
    of the mass lies at 0 (and the rest past any day).
    """
    if sd <= 1e-5 * mean:
        return mean
    return 0.0 if mean <= max(1e-6 * sd, 1e-9) else None


def after(done: Floats, gap: int) -> Floats:
    """The delay of the next when ``gap`` cells lie between two own times: max(0, done - gap)."""
    if gap < 0:
        return np.concatenate([np.zeros(-gap), done])
    if gap >= len(done) - 1:
        return np.ones(1)
    return trim(np.append(done[: gap + 1].sum(), done[gap + 1 :]), len(done))


def beyond(p: Floats, cells: int, smooth: bool) -> float:
    """P(value > cells), half of the cell itself counted where it stands for a density around it.

    The cell at 0 is never halved: there lies the real atom of those who do not wait.
    """
    over = float(p[cells + 1 :].sum())
    return over + float(p[cells]) / 2 if smooth and 0 < cells < len(p) else over


def gamma(mean: float, sd: float, step: float, cells: int) -> Floats:
    """A gamma distribution by mean and standard deviation, discretised so that its mean is kept.

    Each value is shared between its two neighbours on the grid in proportion to nearness (local
    moment matching: Gerber, *Insurance: Mathematics and Economics* 1 (1982) 13-18; from memory),
    so ``p[i]`` is the second difference of E(X - x)+ at the grid over the step. The variance grows
    by less than step² / 4. See `constant` for the extremes.
    """
    value = constant(mean, sd)
    if value is not None:
        return split(np.array([value]), np.ones(1), step, cells)
    shape, scale = (mean / sd) ** 2, sd**2 / mean
    reach = min(float(special.gammainccinv(shape, TAIL)) * scale, (cells - 1) * step)
    x = np.arange(int(np.ceil(reach / step)) + 2) * step
    above, excess_part = (
        special.gammaincc(shape, x / scale),
        special.gammaincc(shape + 1, x / scale),
    )
    excess = mean * excess_part - x * above
    slope = np.diff(excess) / step
    p = np.concatenate([[1.0 + slope[0]], np.diff(slope), [-slope[-1]]])
    return trim(p, cells)
