"""Who is at risk first: the order of the list, and the chance beside the standard estimator."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from scipy.stats import CensoredData, ecdf

from sites.models import Request
from sites.selectors.chance import LEAST, WINDOW, Pace, pace_now, product_limit
from sites.selectors.ranking import requests_ranked
from sites.selectors.standing import Standing, requests_standing
from tests.sites.build import DAY, World

NO_PACE = Pace(np.ones(WINDOW + 1), 0)
HALF = Pace(np.power(0.5, np.arange(1.0, WINDOW + 2)), LEAST)
"""Half of those who are left end on each day: whoever waited, the next days are the same."""


def ranked(order: str = "slack", pace: Pace = NO_PACE) -> Any:
    """All requests in order."""
    rows = requests_standing(today=DAY, requests=Request.objects.all())
    every = [str(each) for each in Standing]
    return requests_ranked(rows=rows, stands=every, order=order, today=DAY, pace=pace)


def names(ranking: Any) -> list[str]:
    """References in the ranking's order."""
    there = Request.objects.in_bulk(ranking.page(0, 100))
    return [there[key].reference for key in ranking.page(0, 100)]


@pytest.mark.parametrize("seed", range(5))
def test_the_share_that_takes_longer_is_the_product_limit_estimate(seed: int) -> None:
    """Statsmodels' `SurvfuncRight`, an implementation of Kaplan and Meier's estimator."""
    rng = np.random.default_rng(seed)
    days, over = rng.integers(0, WINDOW, 400), rng.random(400) < 0.6
    other = ecdf(
        CensoredData(uncensored=days[over].astype(float), right=days[~over].astype(float))
    ).sf
    found = product_limit(days, over)
    assert found[other.quantiles.astype(int)] == pytest.approx(other.probabilities, abs=1e-12)
    assert np.all(np.diff(found) <= 0)


def test_without_censoring_it_is_the_share_itself() -> None:
    days = np.array([0, 1, 1, 3])
    found = product_limit(days, np.ones(4, bool))
    assert found[:5].tolist() == pytest.approx([0.75, 0.25, 0.25, 0, 0])


def test_the_chance_depends_on_the_days_left_and_on_those_that_passed() -> None:
    """A constant hazard has no memory: more than d further days: 0.5 ** (d + 1)."""
    left = np.array([0, 1, 5, -1])
    assert HALF.late(np.array([0, 10, 3, 0]), left).tolist() == [0.5, 0.25, 0.5**6, 1.0]


def test_the_list_starts_with_the_least_slack_and_then_with_the_greater_chance(
    here: World,
) -> None:
    day = timedelta(days=1)
    here.request("soon", due=DAY + 2 * day)
    here.request("late", received=DAY - 30 * day, due=DAY - day)
    here.request("later", due=DAY + 9 * day)
    here.request("fixed", due=DAY + 20 * day)
    here.book(Request.objects.get(reference="fixed"))
    ranking = ranked(pace=HALF)
    assert names(ranking) == ["late", "soon", "later", "fixed"]
    assert ranking.chance.tolist() == pytest.approx([1.0, 0.5**3, 0.5**10, 0.0])
    assert {name: count for name, count in ranking.counts.items() if count} == {
        "to_book": 3, "booked": 1,
    }  # fmt: skip
    assert names(ranked("-due")) == ["fixed", "later", "soon", "late"]
    assert names(ranked("reference")) == ["fixed", "late", "later", "soon"]
    assert names(ranked("chance", HALF)) == ["late", "soon", "later", "fixed"]


def test_a_booking_is_late_where_it_lies_after_the_due_date_else_by_who_does_not_come(
    here: World,
) -> None:
    """No-show 0.2 and three days left after it: 0.2 × 0.5 ** 4."""
    here.profile.no_show = 0.2
    here.profile.save()
    here.book(here.request("in-time", due=DAY + timedelta(days=3)))
    ranking = ranked(pace=HALF)
    assert ranking.chance.tolist() == pytest.approx([0.2 * 0.5**4])
    Request.objects.update(due=DAY - timedelta(days=1), release=DAY - timedelta(days=9))
    assert ranked(pace=HALF).chance.tolist() == [1.0]


def test_with_few_sessions_nothing_is_said(here: World) -> None:
    here.request("free")
    assert np.isnan(ranked(pace=pace_now(today=DAY)).chance).all()
    assert not pace_now(today=DAY).known


def test_only_what_was_asked_for_is_ranked_and_all_of_it_is_counted(here: World) -> None:
    here.request("free")
    here.book(here.request("fixed"))
    rows = requests_standing(today=DAY, requests=Request.objects.all())
    found = requests_ranked(rows=rows, stands=["booked"], order="due", today=DAY, pace=NO_PACE)
    assert names(found) == ["fixed"]
    assert found.counts["to_book"] == 1
    none = requests_ranked(
        rows=rows.none(), stands=["booked"], order="due", today=DAY, pace=NO_PACE
    )
    assert (len(none.keys), none.counts) == (0, {})
