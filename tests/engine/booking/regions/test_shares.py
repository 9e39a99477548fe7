"""What each region may spend; the expected values are worked out by hand."""

from __future__ import annotations

import pytest

from planner.engine.booking import Options
from planner.engine.booking.regions import share_out


def test_effort_is_shared_by_size_whatever_the_workers() -> None:
    for workers in (1, 2, 5):
        asked = share_out(Options(effort=10, workers=workers), [600, 300, 100])
        assert [item.effort for item in asked] == [6, 3, 1]


def test_every_region_gets_some_effort() -> None:
    assert [item.effort for item in share_out(Options(effort=2), [1000, 1, 0])] == [2, 1, 1]


def test_seconds_end_together_on_two_workers() -> None:
    # 600 to the first; 300, 200 and 100 to the second: both are at work for all 60 seconds.
    asked = share_out(Options(seconds=60, workers=2), [100, 600, 300, 200])
    assert [item.seconds for item in asked] == pytest.approx([10, 60, 30, 20])


def test_one_worker_shares_its_seconds_among_all() -> None:
    asked = share_out(Options(seconds=60), [100, 200])
    assert [item.seconds for item in asked] == pytest.approx([20, 40])
    assert [item.workers for item in asked] == [1, 1]


def test_workers_to_spare_go_to_the_largest() -> None:
    asked = share_out(Options(effort=1, workers=5), [100, 500])
    assert [item.workers for item in asked] == [1, 4]
