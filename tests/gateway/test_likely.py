"""Likely ends follow the rule of the day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy import stats

from planner.engine.network import Capture, Profile, Setup
from planner.gateway.board.likely import DRAWS, likely_ends
from tests.gateway.small import NINE, small_network, small_plan


def test_lengths_without_chance_end_when_sums_say() -> None:
    """By hand: 7 min + 3 · 20 s + 10 · 25 s + 3 min = 15 min 10 s.

    r1 ends at 09:15:10; r2, told 09:15, begins then and ends at 09:30:20.
    """
    sure = Profile("usual", Setup(7, 0), (Capture("plain", 3, 20, 0), Capture("rolled", 10, 25, 0)),
                   3, 30, 3, 0.0)  # fmt: skip
    network = replace(small_network(), profiles=(sure,))
    ends = likely_ends(network, small_plan())
    assert ends["r1"] == (NINE + 15, NINE + 15)
    assert ends["r2"] == (NINE + 30, NINE + 30)


def test_a_first_session_ends_as_its_setup_does() -> None:
    """Gamma setup alone (mean 30, sd 10; scipy) and no no-show; 4 standard errors, 1 min rounding.

    The standard error of a quantile is sqrt(q (1 - q) / n) / density (from memory).
    """
    plain = Profile("usual", Setup(30, 10), (), 1, 0, 0, 0.3)
    ends = likely_ends(replace(small_network(), profiles=(plain,)), small_plan(), seed=5)["r1"]
    setup = stats.gamma(9, scale=10 / 3)
    came = DRAWS * (1 - 0.3)
    for found, q in zip(ends, (0.10, 0.90), strict=True):
        theory = float(setup.ppf(q))
        error = float(np.sqrt(q * (1 - q) / came) / setup.pdf(theory))
        assert abs(found - NINE - theory) < 4 * error + 0.5


def test_everybody_booked_has_a_likely_end() -> None:
    ends = likely_ends(small_network(), small_plan())
    assert set(ends) == {"r1", "r2", "r3"}
    assert all(low <= high for low, high in ends.values())
