"""The length of a session as an exact distribution on a grid, with moments in closed form."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.sessions import grid

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.engine.network import Capture, Profile
    from planner.engine.sessions.grid import Floats

_STEPS = (5, 4, 3, 2, 1)  # seconds; each divides a minute, so whole minutes lie on the grid
_MOST_ATTEMPTS = 1_000_000  # beyond it an attempt limit cannot be told from no limit
_SUMMED = 100_000  # up to here moments are sums, beyond it their closed form
_PARTS = 2048  # of the uniforms' range, in each of which the first cell is known


@dataclass(frozen=True, slots=True, eq=False)
class _Inverse:
    """A piecewise linear inverse: base + slope · uniform below each of the upper ``edges``.

    ``first[k]`` is the cell of k / `_PARTS`: where a search for a uniform of that part begins
    (indexed search, Chen and Asau 1974, doi:10.1080/05695557408974949; from memory).
    """

    edges: Floats
    base: Floats
    slope: Floats
    first: NDArray[np.intp]

    def cells(self, uniforms: Floats) -> NDArray[np.intp]:
        """The cell that each uniform falls in: two looks at the edges for most, else a search."""
        cells = self.first[(uniforms * _PARTS).astype(np.intp)]
        cells += self.edges[cells] <= uniforms
        beyond = np.flatnonzero(self.edges[cells] <= uniforms)
        cells[beyond] = np.searchsorted(self.edges, uniforms[beyond], side="right")
        found: NDArray[np.intp] = np.minimum(cells, len(self.base) - 1)
        return found


@dataclass(frozen=True, slots=True, eq=False)
class SessionLength:
    """How long a session of one profile takes, in minutes.

    ``pmf[i]`` is P(length = i · step) of a session that takes place; ``booked_pmf`` the same for a
    booking, a no-show taking 0. Both sum to 1; less than 1e-12 of tail is cut. ``mean`` and ``sd``
    (of a session that takes place) and ``mean_booked`` (no-shows as 0) are closed forms.
    ``p_unmet`` is the probability that some capture is still short after its last attempt.
    ``smooth`` says that the length has a density, so that a cell stands for the half step on
    either side of it; where the setup is constant, cells are exact values.
    """

    step: float
    smooth: bool
    pmf: Floats
    booked_pmf: Floats
    mean: float
    sd: float
    mean_booked: float
    no_show: float
    p_unmet: float
    _cdf: Floats
    _inverse: _Inverse

    def quantile(self, q: float) -> float:
        """The shortest minutes that a session keeps with probability ``q`` in [0, 1]."""
        cell = min(int(np.searchsorted(self._cdf, q - 1e-12)), len(self.pmf) - 1)
        if not self.smooth or cell == 0:
            return cell * self.step
        within = (q - float(self._cdf[cell - 1])) / float(self.pmf[cell])
        return (cell - 0.5 + min(max(within, 0.0), 1.0)) * self.step

    def sf(self, minutes: float) -> float:
        """P(a session that takes place is longer than ``minutes``)."""
        if minutes < 0:
            return 1.0
        if self.smooth:
            edges = (np.arange(len(self.pmf)) + 0.5) * self.step
            return max(0.0, 1.0 - float(np.interp(minutes, edges, self._cdf)))
        cell = min(math.floor(minutes / self.step + 1e-9), len(self.pmf) - 1)
        return max(0.0, 1.0 - float(self._cdf[cell]))

    def draw(self, uniforms: Floats) -> Floats:
        """Lengths of bookings in minutes, one for each uniform in [0, 1), by inversion.

        Values of a smooth length are spread evenly over their cells, so that a simulation and the
        exact recursions agree on P(> t) to the second order of the step.
        """
        inverse = self._inverse
        cells = inverse.cells(uniforms)
        minutes: Floats = inverse.base[cells] + inverse.slope[cells] * uniforms
        return minutes


@lru_cache(maxsize=4096)
def session_length(profile: Profile) -> SessionLength:
    """The length of a session of ``profile``: setup + all captures + wrap-up.

    One capture takes k attempts with P(k) = r^(k-1) (1 - r) for k < m and r^(m-1) for k = m, in
    k · seconds + (k - 1) · remedy; captures and setup are independent (``MODEL.md``, session
    length). A setup of mean 0 is 0 whatever its ``sd``.
    """
    seconds = _step_seconds(profile)
    step = seconds / 60
    cells = grid.CAP_MINUTES * 60 // seconds
    setup_sd = profile.setup.sd if profile.setup.mean > 0 else 0.0
    smooth = grid.constant(profile.setup.mean, setup_sd) is None
    pmf = grid.gamma(profile.setup.mean, setup_sd, step, cells)
    mean, sd, log_met = profile.setup.mean + profile.wrapup, setup_sd, 0.0
    for capture in profile.captures:
        times, weights = _attempts(capture, profile, cells * seconds)
        one = grid.split(times, weights, seconds, cells)
        pmf = grid.trim(grid.convolve(pmf, grid.power(one, capture.count, cells)), cells)
        one_mean, one_sd = _moments(capture, profile)
        mean += capture.count * one_mean
        sd = math.hypot(sd, math.sqrt(capture.count) * one_sd)
        log_met += capture.count * math.log1p(-(capture.retake**profile.max_attempts))
    wrapup = min(round(profile.wrapup / step), cells - 1)
    pmf = grid.trim(np.concatenate([np.zeros(wrapup), pmf]), cells)
    booked = (1.0 - profile.no_show) * pmf
    booked[0] += profile.no_show
    return SessionLength(
        step=step,
        smooth=smooth,
        pmf=pmf,
        booked_pmf=booked,
        mean=mean,
        sd=sd,
        mean_booked=(1.0 - profile.no_show) * mean,
        no_show=profile.no_show,
        p_unmet=-math.expm1(log_met),
        _cdf=np.cumsum(pmf) / pmf.sum(),
        _inverse=_inverse(pmf, step, profile.no_show, smooth),
    )


def _inverse(pmf: Floats, step: float, no_show: float, smooth: bool) -> _Inverse:
    """Upper edges in probability, and length = base + slope · uniform between two edges.

    The first piece is the no-show; a cell too unlikely for its slope to be exact, and the cell at
    0, keep their one value.
    """
    p = np.concatenate([[no_show], (1.0 - no_show) * pmf])
    edges = np.cumsum(p)
    base = np.concatenate([[0.0], np.arange(len(pmf)) * step])
    spread = smooth & (base > 0.0) & (p > 1e-10)
    slope = np.where(spread, step / np.maximum(p, 1e-10), 0.0)
    base = np.where(spread, base - step / 2 - slope * (edges - p), base)
    edges = np.append(edges, np.inf)
    parts = np.searchsorted(edges, np.arange(_PARTS + 1) / _PARTS, side="right")
    return _Inverse(edges, base, slope, parts)


def _step_seconds(profile: Profile) -> int:
    """The coarsest step on which every attempt, remedy and constant setup lands, else 1 s."""
    lands = [profile.remedy_seconds, *(capture.seconds for capture in profile.captures)]
    if profile.setup.sd == 0:
        lands.append(profile.setup.mean * 60)
    for step in _STEPS:
        if all(abs(value / step - round(value / step)) < 1e-9 for value in lands):
            return step
    return _STEPS[-1]


def _attempts(capture: Capture, profile: Profile, reach: float) -> tuple[Floats, Floats]:
    """Seconds and probability of each number of attempts at one capture.

    Numbers of attempts that cannot matter are lumped in the last: past ``reach`` seconds, or less
    likely than the tail that is cut.
    """
    r, each = capture.retake, capture.seconds + profile.remedy_seconds
    limit: float = min(profile.max_attempts, _MOST_ATTEMPTS)
    if each > 0:
        limit = min(limit, reach / each + 2)
    limit = min(limit, math.log(grid.TAIL) / math.log(r) + 2) if r > 0 else 1
    most = int(limit)
    k = np.arange(1, most + 1, dtype=np.float64)
    weights: Floats = r ** (k - 1) * (1.0 - r)
    weights[-1] = r ** (most - 1)
    times: Floats = k * each - profile.remedy_seconds
    return times, weights


def _moments(capture: Capture, profile: Profile) -> tuple[float, float]:
    """Mean and standard deviation of one capture's time in minutes.

    With P(N > k) = r^k for k < m: E N = Σ r^k and E N² = Σ (2k + 1) r^k over k < m, which are
    summed term by term where that can be done, so that an r near 1 loses no digits.
    """
    r, m = capture.retake, profile.max_attempts
    if m <= _SUMMED:
        k = np.arange(m)
        powers = r**k
        first, second = float(powers.sum()), float(((2 * k + 1) * powers).sum())
    else:
        first = (1 - r**m) / (1 - r)
        second = first + 2 * (r - m * r**m + (m - 1) * r ** (m + 1)) / (1 - r) ** 2
    each = (capture.seconds + profile.remedy_seconds) / 60
    spread = math.sqrt(max(second - first * first, 0.0))
    return first * each - profile.remedy_seconds / 60, spread * each
