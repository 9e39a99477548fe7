"""Common random numbers."""

from __future__ import annotations

import numpy as np
import pytest

from planner.engine.sessions.draws import Draws
from tests.engine.sessions.build import HARD, STANDARD

KINDS = {kind.id: kind for kind in (STANDARD, HARD)}


def draws(seed: int = 1, n: int = 500, purpose: str = "plan", keep: int = 0) -> Draws:
    return Draws(KINDS, seed, n, purpose, keep=keep)


def test_a_request_keeps_its_draws() -> None:
    first, again = draws(), draws()
    first.of("other", "hard")
    assert np.array_equal(first.of("a", "usual"), again.of("a", "usual"))
    assert first.of("a", "usual").shape == (500,)


def test_a_longer_series_begins_with_the_shorter_one() -> None:
    assert np.array_equal(draws(n=4000).of("a", "usual")[:500], draws().of("a", "usual"))


def test_requests_purposes_and_seeds_share_no_numbers() -> None:
    base = draws().of("a", "usual")
    for other in (
        draws().of("b", "usual"),
        draws(purpose="verify").of("a", "usual"),
        draws(seed=2).of("a", "usual"),
    ):
        present = (base > 0) & (other > 0)
        assert abs(np.corrcoef(base[present], other[present])[0, 1]) < 4 / np.sqrt(present.sum())


def test_another_profile_meets_the_same_luck() -> None:
    """Who is slow at one site is slow at the other: the uniforms are the request's own."""
    usual, hard = draws().of("a", "usual"), draws().of("a", "hard")
    present = (usual > 0) & (hard > 0)
    order = np.argsort(usual[present], kind="stable")
    assert np.all(np.diff(hard[present][order]) >= -1e-9)


def test_kept_series_are_bounded_and_equal() -> None:
    keeper, plain = draws(keep=2), draws()
    for request in ("a", "b", "c", "a", "c"):
        assert np.array_equal(keeper.of(request, "usual"), plain.of(request, "usual"))
    assert keeper.of("c", "usual") is keeper.of("c", "usual")


def test_an_unknown_profile_is_an_error() -> None:
    with pytest.raises(KeyError):
        draws().of("a", "unknown")
