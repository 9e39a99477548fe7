"""The exact length of a session."""

from __future__ import annotations

import itertools
import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.sessions import grid
from planner.engine.sessions.length import SessionLength, session_length
from tests.engine.sessions.build import HARD, STANDARD, WORN, bare, fixed, profile

if TYPE_CHECKING:
    from planner.engine.network import Profile


def grid_mean(length: SessionLength) -> float:
    return float(length.pmf @ np.arange(len(length.pmf))) * length.step


def grid_sd(length: SessionLength) -> float:
    values = np.arange(len(length.pmf)) * length.step
    return float(math.sqrt(length.pmf @ (values - grid_mean(length)) ** 2))


@pytest.mark.parametrize(
    ("kind", "mean", "mean_booked"),
    [(STANDARD, 17.143, 15.772), (WORN, 21.279, 20.002), (HARD, 29.179, 27.720)],
)
def test_means_agree_with_an_independent_program(
    kind: Profile, mean: float, mean_booked: float
) -> None:
    length = session_length(kind)
    assert length.mean == pytest.approx(mean, abs=0.0005)
    assert length.mean_booked == pytest.approx(mean_booked, abs=0.0005)


rates = st.floats(0, 0.9)
profiles = st.builds(
    lambda mean, cv, captures, attempts, remedy, wrapup, no_show: profile(
        (mean, cv * mean),
        tuple(captures),
        attempts=attempts,
        remedy=remedy,
        wrapup=wrapup,
        no_show=no_show,
    ),
    st.floats(0, 20),
    st.floats(0, 1.5),
    st.lists(st.tuples(st.integers(1, 12), st.integers(0, 60), rates), max_size=3),
    st.integers(1, 6),
    st.sampled_from([0.0, 7.5, 30.0]),
    st.integers(0, 5),
    st.floats(0, 1),
)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(profiles)
def test_the_grid_keeps_the_closed_moments(kind: Profile) -> None:
    length = session_length(kind)
    assert length.step <= 5 / 60 + 1e-12
    assert math.isclose(1 / length.step, round(1 / length.step), abs_tol=1e-9)
    assert length.pmf.sum() == pytest.approx(1, abs=1e-12)
    assert length.booked_pmf.sum() == pytest.approx(1, abs=1e-12)
    assert length.pmf.min() >= 0
    assert grid_mean(length) == pytest.approx(length.mean, abs=0.005)
    # sharing a value between two cells adds at most step² / 4 for each part that is off the grid
    assert -1e-6 < grid_sd(length) ** 2 - length.sd**2 < 0.005
    assert length.mean_booked == pytest.approx((1 - kind.no_show) * length.mean)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(profiles)
def test_quantiles_rise_and_are_kept(kind: Profile) -> None:
    length = session_length(kind)
    quantiles = [length.quantile(q) for q in (0.0, 0.1, 0.5, 0.9, 0.95, 1.0)]
    assert all(a <= b for a, b in itertools.pairwise(quantiles))
    for q in (0.1, 0.5, 0.9, 0.95):
        assert length.sf(length.quantile(q) + length.step) <= 1 - q + 1e-9
    assert length.sf(quantiles[-1] + length.step) <= 1e-9


@pytest.mark.parametrize("kind", [STANDARD, HARD, fixed(20, no_show=0.3), bare(5, 7)])
def test_draws_have_the_moments_of_a_booking(kind: Profile) -> None:
    length = session_length(kind)
    n = 200_000
    drawn = length.draw(np.random.default_rng(1).random(n))
    variance = (1 - length.no_show) * (length.sd**2 + length.mean**2) - length.mean_booked**2
    assert abs(drawn.mean() - length.mean_booked) < 4 * math.sqrt(variance / n)
    assert drawn.var() == pytest.approx(variance, rel=0.03)
    assert drawn.min() >= 0
    absent = np.count_nonzero(drawn == 0) / n
    assert abs(absent - length.no_show) < 4 * math.sqrt(0.25 / n) + length.pmf[0]


@pytest.mark.parametrize("kind", [STANDARD, HARD, fixed(20, no_show=0.3), bare(5, 7)])
def test_draws_invert_the_distribution(kind: Profile) -> None:
    length = session_length(kind)
    upto = np.cumsum(length.booked_pmf) / np.sum(length.booked_pmf)
    uniforms = np.random.default_rng(2).random(20_000)
    clear = np.abs(uniforms[:, None] - upto[None, :]).min(axis=1) > 1e-9
    cells = np.searchsorted(upto, uniforms[clear], side="right")
    drawn = length.draw(uniforms[clear]) / length.step
    absent = uniforms[clear] < length.no_show
    assert np.all(drawn[absent] == 0)
    assert np.all(np.abs(drawn - cells)[~absent] <= (0.5 if length.smooth else 0.0) + 1e-6)


def test_the_ends_of_the_unit_interval_can_be_drawn() -> None:
    drawn = session_length(STANDARD).draw(np.array([0.0, np.nextafter(1.0, 0.0)]))
    assert drawn[0] == 0.0
    assert 40 < drawn[1] < 90


def test_a_session_without_any_chance_in_it_is_one_value() -> None:
    kind = profile((7, 0), ((3, 20, 0.0), (10, 25, 0.0)), no_show=0.0)
    length = session_length(kind)
    exact = 7 + (3 * 20 + 10 * 25) / 60 + 3
    assert length.mean == pytest.approx(exact)
    assert length.sd == 0
    assert length.p_unmet == 0
    assert [length.quantile(q) for q in (0.05, 0.95)] == pytest.approx([exact, exact])
    assert length.sf(exact) == pytest.approx(0, abs=1e-12)
    assert length.sf(exact - 0.01) == pytest.approx(1, abs=1e-12)


def test_one_attempt_means_no_retakes_but_some_short() -> None:
    length = session_length(profile((0, 0), ((2, 30, 0.25),), attempts=1, wrapup=0))
    assert length.mean == pytest.approx(1)
    assert length.sd == pytest.approx(0)
    assert length.p_unmet == pytest.approx(1 - 0.75**2)


def test_a_session_of_nothing_takes_no_time() -> None:
    length = session_length(profile((0, 4), (), wrapup=0, no_show=0.5))
    assert (length.mean, length.sd, length.quantile(0.95)) == (0, 0, 0)
    assert length.draw(np.array([0.1, 0.9])).tolist() == [0, 0]


def test_a_subject_who_never_comes_takes_no_time() -> None:
    length = session_length(profile(no_show=1.0))
    assert length.mean_booked == 0
    assert length.draw(np.array([0.0, 0.5, 0.999999])).tolist() == [0, 0, 0]
    assert length.mean == pytest.approx(17.143, abs=0.0005)


def test_attempts_that_miss_the_coarse_grid_get_a_finer_one() -> None:
    assert session_length(profile(remedy=30)).step == pytest.approx(5 / 60)
    assert session_length(profile(remedy=32)).step == pytest.approx(1 / 60)
    assert session_length(profile(captures=((4, 12, 0.1),), remedy=8)).step == pytest.approx(4 / 60)
    odd = session_length(profile(captures=((4, 12.3, 0.1),), remedy=7.7))
    assert odd.step == pytest.approx(1 / 60)
    assert grid_mean(odd) == pytest.approx(odd.mean, abs=1e-6)


def test_very_long_sessions_keep_their_moments() -> None:
    length = session_length(profile((300, 40)))
    assert length.mean == pytest.approx(310.143, abs=0.0005)
    assert grid_mean(length) == pytest.approx(length.mean, abs=0.005)
    assert grid_sd(length) == pytest.approx(length.sd, abs=0.005)


@pytest.mark.parametrize(
    "kind",
    [
        profile((1, 500)),
        profile((0.001, 1000), ()),
        profile((100_000, 1)),
        profile(captures=((10**9, 20, 0.5),)),
        profile(captures=((3, 20, 0.999999),), attempts=10**9),
        profile(captures=((3, 0, 0.999),), attempts=10**9, remedy=0),
        profile((1e-9, 1e-12)),
        profile((5e-324, 3)),
        profile((3, 1e200)),
        profile(captures=((2, 1e300, 0.5),), remedy=5e-324),
        profile(captures=((2, 5e-324, 0.999),), remedy=0, attempts=10**12),
        profile(wrapup=10**7),
    ],
)
def test_absurd_sessions_are_bounded(kind: Profile) -> None:
    """Nothing past two days is told apart; closed moments stay exact, sizes small."""
    length = session_length(kind)
    assert len(length.pmf) <= grid.CAP_MINUTES * 60
    assert length.pmf.sum() == pytest.approx(1, abs=1e-12)
    assert np.isfinite([length.mean, length.sd, length.p_unmet]).all()
    assert length.quantile(1.0) <= grid.CAP_MINUTES
