"""The smoothed ascent against SciPy: its soft minimum, its gradient, and its steps.

L-BFGS-B (Byrd, Lu, Nocedal and Zhu 1995, doi:10.1137/0916069, from memory; SciPy's is run) is the
second opinion on the least value; `scipy.special.logsumexp` on the soft minimum.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import check_grad, minimize
from scipy.special import logsumexp

from planner.engine.booking.allocate.ascent import ascend, evaluate
from planner.engine.booking.allocate.climb import Value, climb_down
from planner.engine.booking.allocate.soft import keep_near, soft_minimum
from tests.outside.test_allocation import CONTESTED, program

OPTIONS, CAPACITY = program(CONTESTED[0])


def falling(temperature: float) -> Value:
    kept = keep_near(OPTIONS, CAPACITY, np.zeros(len(CAPACITY.cap)), np.inf)

    def value(x: np.ndarray) -> tuple[float, np.ndarray]:
        total, _, load = soft_minimum(kept, CAPACITY, x, temperature)
        use = np.zeros(len(CAPACITY.cap))
        for p, minutes in enumerate(load):
            use[CAPACITY.rows_of[CAPACITY.first[p] : CAPACITY.first[p + 1]]] += minutes
        return -(total - float(x @ CAPACITY.cap)), CAPACITY.cap - use

    return value


def test_threads_change_nothing_but_the_time() -> None:
    alone, together = ascend(OPTIONS, CAPACITY), ascend(OPTIONS, CAPACITY, threads=3)
    assert alone.bound == together.bound > 0
    assert np.array_equal(alone.prices, together.prices)
    assert np.array_equal(alone.often, together.often)


@pytest.mark.parametrize("temperature", [0.5, 3.0])
def test_the_soft_minimum_is_log_sum_exp(temperature: float) -> None:
    rng = np.random.default_rng(3)
    prices = rng.exponential(0.2, len(CAPACITY.cap))
    kept = keep_near(OPTIONS, CAPACITY, prices, np.inf)
    total, share, _ = soft_minimum(kept, CAPACITY, prices, temperature)
    value = OPTIONS.cost + OPTIONS.minutes * CAPACITY.pattern_prices(prices)[CAPACITY.pattern]
    expected = 0.0
    for r, out in enumerate(OPTIONS.unbooked):
        mine = value[OPTIONS.first[r] : OPTIONS.first[r + 1]]
        expected += -temperature * logsumexp(-np.append(mine, out) / temperature)
    assert total == pytest.approx(expected, rel=1e-9)
    assert (share >= 0).all()
    assert (np.bincount(OPTIONS.request, weights=share) <= 1 + 1e-9).all()


def test_its_gradient_is_the_slack_of_the_rows() -> None:
    value = falling(1.0)
    rng = np.random.default_rng(4)
    at = rng.exponential(0.2, len(CAPACITY.cap))

    def height(x: np.ndarray) -> float:
        return value(x)[0]

    def slope(x: np.ndarray) -> np.ndarray:
        return value(x)[1]

    error = check_grad(height, slope, at)
    assert error < 1e-3 * np.abs(value(at)[1]).max()


@pytest.mark.parametrize("temperature", [0.3, 2.0])
def test_the_climb_ends_where_scipy_ends(temperature: float) -> None:
    value = falling(temperature)
    start = np.zeros(len(CAPACITY.cap))
    ours = value(climb_down(value, start, 2000, 0.0))[0]
    theirs = minimize(
        value, start, jac=True, method="L-BFGS-B", bounds=[(0, None)] * len(start),
        options={"maxiter": 2000, "maxfun": 4000, "ftol": 1e-13},
    ).fun  # fmt: skip
    assert ours == pytest.approx(theirs, rel=1e-4)


def test_a_narrow_choice_of_options_bounds_from_above_what_all_give() -> None:
    """Fewer options can only raise the minimum, and at width 0 the hard minimum stays."""
    prices = np.full(len(CAPACITY.cap), 0.1)
    everything = keep_near(OPTIONS, CAPACITY, prices, np.inf)
    best = keep_near(OPTIONS, CAPACITY, prices, 0.0)
    assert len(best.option) < len(everything.option)
    hard = evaluate(OPTIONS, CAPACITY, prices)[0] + float(prices @ CAPACITY.cap)
    cold = soft_minimum(best, CAPACITY, prices, 1e-9)[0]
    assert cold == pytest.approx(hard, rel=1e-6)
