"""Told times against what is known of appointment rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from planner.engine.sessions.chain import chain_wait_exact
from planner.engine.sessions.waits import Draws, Thing, run_day
from tests.engine.sessions.build import bare

SLOT = 10  # minutes: the mean of a session here, and the unit of the published values


def row(told: list[int]) -> list[Thing]:
    """Sessions in a row at one station, told so."""
    return [Thing(i, t, 0, 0, 0, f"r{i}", "bare") for i, t in enumerate(told)]


ONE_A_SLOT = [SLOT * i for i in range(10)]
TWO_AT_FIRST = [0, *ONE_A_SLOT[:-1]]


@pytest.mark.parametrize(
    ("told", "wait", "finish"),
    [(ONE_A_SLOT, 1.059454, 11.814394), (TWO_AT_FIRST, 1.371218, 11.040787)],
    ids=["one a slot", "two at first"],
)
def test_ten_subjects_wait_as_the_exact_chain_says(
    told: list[int], wait: float, finish: float
) -> None:
    """10 subjects, exponential sessions of mean 1, slots of 1: mean wait and expected finish.

    The rule (two at time 0, then one a slot) is Bailey and Welch's (1952), from memory; the values
    are derived, from the exact transient chain of the number present.
    """
    profiles = {"bare": bare(SLOT, SLOT)}
    exact = chain_wait_exact(row(told), profiles)
    assert np.mean([d.mean for d in exact]) / SLOT == pytest.approx(wait, abs=1e-4)
    assert (told[-1] + exact[-1].mean) / SLOT + 1 == pytest.approx(finish, abs=1e-4)

    n = 20_000
    begun = run_day(row(told), Draws(profiles, 4, n, "appointments"))
    waits = np.mean([b - t for (b, _), t in zip(begun, told, strict=True)], axis=0) / SLOT
    ends = begun[-1][1] / SLOT
    for sample, theory in ((waits, wait), (ends, finish)):
        assert abs(np.mean(sample) - theory) < 4 * np.std(sample) / math.sqrt(n)


@pytest.mark.parametrize(
    ("sd", "wait_cost", "idle_cost", "best"),
    [
        (200, 1, 1, 0.693147),
        (200, 1, 2, 0.405465),
        (200, 1, 9, 0.105361),
        (100, 1, 1, 0.918015),
    ],
)
def test_the_second_of_two_is_told_the_newsvendors_time(
    sd: float, wait_cost: float, idle_cost: float, best: float
) -> None:
    """Least cost of waiting and idling at x* = F^-1(cw / (cw + ci)), in means of 200 minutes.

    Derived: derivative of cw E(S - x)+ + ci E(x - S)+; exponential where sd is the mean, else
    gamma of shape 4.
    """
    theory = stats.gamma((200 / sd) ** 2, scale=sd**2 / 200)
    assert theory.ppf(wait_cost / (wait_cost + idle_cost)) / 200 == pytest.approx(best, abs=1e-6)

    def cost(x: int) -> float:
        wait = chain_wait_exact(row([0, x]), {"bare": bare(200, sd)})[1].mean
        return wait_cost * wait + idle_cost * (x - 200 + wait)

    told = min(range(400), key=cost)
    assert abs(told - 200 * best) <= 1
