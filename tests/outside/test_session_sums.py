"""Session lengths against closed forms, reference libraries and plain enumeration."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict

import numpy as np
import pytest
from scipy import stats

from planner.engine.sessions.length import session_length
from tests.engine.sessions.build import bare, profile


def test_one_capture_is_a_truncated_geometric() -> None:
    """Retake .2, at most 3 attempts: pmf .8, .16, .04, mean 1.24, variance .2624.

    Derived: E N is the sum of P(N > k) = p^k over k < 3.
    """
    length = session_length(profile((0, 0), ((1, 60, 0.2),), remedy=0, wrapup=0, no_show=0.0))
    minute = round(1 / length.step)
    assert length.pmf[minute::minute] == pytest.approx([0.8, 0.16, 0.04], abs=1e-12)
    assert length.mean == pytest.approx(1.24, abs=1e-12)
    assert length.sd**2 == pytest.approx(0.2624, abs=1e-12)
    assert length.p_unmet == pytest.approx(0.2**3, abs=1e-12)


def test_ten_captures_without_limit_are_negative_binomial() -> None:
    """10 captures, p = .2, no limit: P(more than 15 attempts) = .0610514296.

    Derived: negative binomial and binomial tails are dual; both as scipy computes them.
    """
    length = session_length(
        profile((0, 0), ((10, 60, 0.2),), attempts=10_000, remedy=0, wrapup=0, no_show=0.0)
    )
    assert length.sf(15) == pytest.approx(0.061051429617663966, abs=1e-10)
    assert length.sf(15) == pytest.approx(stats.nbinom.sf(5, 10, 0.8), abs=1e-10)
    assert length.sf(15) == pytest.approx(stats.binom.cdf(9, 15, 0.8), abs=1e-10)
    assert length.mean == pytest.approx(10 / 0.8)
    assert length.sd == pytest.approx(stats.nbinom.std(10, 0.8))


@pytest.mark.parametrize(("mean", "sd"), [(7, 3), (11, 5), (8, 8), (20, 2)])
def test_a_bare_setup_is_gamma(mean: float, sd: float) -> None:
    """Tail and quantiles of the gamma distribution as scipy.stats.gamma computes them."""
    theory = stats.gamma((mean / sd) ** 2, scale=sd**2 / mean)
    length = session_length(bare(mean, sd))
    for t in (0.5 * mean, mean, 1.5 * mean, 3 * mean):
        assert length.sf(t) == pytest.approx(theory.sf(t), abs=1e-4)
    for q in (0.05, 0.5, 0.9, 0.95, 0.999):
        assert length.quantile(q) == pytest.approx(theory.ppf(q), abs=0.01)
    assert length.mean == pytest.approx(theory.mean())
    assert length.sd == pytest.approx(theory.std())


def test_drawn_setups_are_gamma() -> None:
    """Kolmogorov-Smirnov (scipy.stats.kstest) of 20,000 drawn lengths, fixed seed."""
    uniforms = np.random.default_rng(5).random(20_000)
    drawn = session_length(bare(7, 3)).draw(uniforms)
    assert stats.kstest(drawn, stats.gamma((7 / 3) ** 2, scale=9 / 7).cdf).pvalue > 0.001


def test_a_small_session_matches_plain_enumeration() -> None:
    """Every way a session of 3 captures can go, one by one (derived: enumeration)."""
    captures, attempts, remedy = ((2, 20, 0.3), (1, 35, 0.4)), 3, 30
    length = session_length(
        profile((2, 0), captures, attempts=attempts, remedy=remedy, wrapup=1, no_show=0.1)
    )
    each = [(seconds, r) for count, seconds, r in captures for _ in range(count)]
    chances: dict[int, float] = defaultdict(float)
    short = 0.0
    for fails in itertools.product(range(attempts + 1), repeat=len(each)):
        chance, seconds = 1.0, 180
        for (one, r), failed in zip(each, fails, strict=True):
            tries = min(failed + 1, attempts)
            chance *= r**failed * (1.0 if failed == attempts else 1 - r)
            seconds += tries * one + (tries - 1) * remedy
        chances[seconds] += chance
        short += chance * (attempts in fails)
    expected = np.zeros(len(length.pmf))
    for seconds, chance in chances.items():
        expected[round(seconds / 60 / length.step)] += chance
    assert length.pmf == pytest.approx(expected, abs=1e-12)
    assert length.p_unmet == pytest.approx(short, abs=1e-12)
    mean = math.fsum(seconds * chance for seconds, chance in chances.items()) / 60
    square = math.fsum(seconds**2 * chance for seconds, chance in chances.items()) / 3600
    assert length.mean == pytest.approx(mean, abs=1e-12)
    assert length.sd == pytest.approx(math.sqrt(square - mean**2), abs=1e-12)
    assert length.booked_pmf[0] == pytest.approx(0.1, abs=1e-12)
    assert length.booked_pmf[1:] == pytest.approx(0.9 * expected[1:], abs=1e-12)


def test_one_strict_capture_takes_1_56_tries() -> None:
    """First-time pass 0.60 and 3 tries: mean 1.56 tries, 6.4 % still short.

    Arithmetic on a first-time rate quoted in a book chapter from public study figures.
    """
    length = session_length(profile((0, 0), ((1, 60, 0.4),), remedy=0, wrapup=0, no_show=0.0))
    assert length.mean == pytest.approx(1.56)
    assert length.p_unmet == pytest.approx(0.064)
