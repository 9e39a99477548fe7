"""Shares and working days against what others publish or compute.

Wilson: NIST/SEMATECH e-Handbook, section 7.2.4.1 (prc241) gives the formula; the example 26 of 200
is from an older state of the page, its value was computed from that formula with statsmodels.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from scipy.stats import norm

from sites.selectors.shares import share
from sites.selectors.workdays import days_ago, working_days


def test_wilson_of_the_handbooks_example() -> None:
    """Two-sided 90 %, so that each side is the handbook's one-sided 95 %."""
    found = share(26, 200, 0.90)
    assert found.value == 0.13
    assert found.low == pytest.approx(0.09577275, abs=5e-9)
    assert found.high == pytest.approx(0.17410415, abs=5e-9)


@pytest.mark.parametrize(("hits", "n"), [(0, 1), (0, 12), (7, 7), (3, 11), (980, 1000)])
def test_wilson_is_where_the_score_test_turns(hits: int, n: int) -> None:
    """By definition its ends solve |p - P| = z * sqrt(P (1 - P) / n) (Wilson 1927)."""
    found = share(hits, n)
    z = norm.ppf(0.975)
    assert found.low is not None
    assert found.high is not None
    for end in (found.low, found.high):
        if 0 < end < 1:
            spread = z * np.sqrt(end * (1 - end) / n)
            assert abs(hits / n - end) == pytest.approx(spread, rel=1e-9)
    assert 0 <= found.low <= hits / n <= found.high <= 1


def test_a_share_of_nothing_has_no_value() -> None:
    found = share(0, 0)
    assert (found.value, found.low, found.high) == (None, None, None)
    with pytest.raises(ValueError, match="expected 0 <= hits <= n"):
        share(3, 2)


def test_working_days_of_a_year() -> None:
    """2026 has 261 days from Monday to Friday.

    Derivation: 365 days are 52 weeks and one day; 1 January 2026 is a Thursday, so is the extra
    day: 52 * 5 + 1.
    """
    assert date(2026, 1, 1).isoweekday() == 4
    assert working_days(date(2026, 1, 1), date(2027, 1, 1)) == 52 * 5 + 1
    assert working_days(date(2026, 3, 6), date(2026, 3, 9)) == 1
    assert working_days(date(2026, 3, 9), date(2026, 3, 6)) == 0


@pytest.mark.parametrize("today", [date(2026, 3, day) for day in range(2, 9)])
@pytest.mark.parametrize("count", [1, 2, 5, 6, 11])
def test_days_ago_is_the_latest_day_so_old(today: date, count: int) -> None:
    found = days_ago(today, count)
    assert working_days(found, today) >= count
    assert working_days(date.fromordinal(found.toordinal() + 1), today) < count
