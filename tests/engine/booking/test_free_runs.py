"""Free minutes in a row, against counting them one by one (the definition)."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.engine.booking.siteday import runs

FLAGS = st.lists(st.lists(st.integers(0, 1), min_size=12, max_size=12), min_size=0, max_size=3)


@given(rows=FLAGS, cuts=st.sets(st.integers(0, 12), max_size=4))
@settings(deadline=None)
def test_a_run_ends_where_time_is_taken_or_an_interval_begins(
    rows: list[list[int]], cuts: set[int]
) -> None:
    free = np.array([[*row, 0] for row in rows], dtype=np.int32).reshape(-1, 13)
    found = runs(free, cuts)
    assert found.shape == free.shape
    for k, row in enumerate(rows):
        for minute in range(12):
            length = 0
            while minute + length < 12 and row[minute + length]:
                if length and minute + length in cuts:
                    break
                length += 1
            assert found[k, minute] == length
