"""The benchmark of regions measures what it says; nothing here looks at the clock."""

from __future__ import annotations

import re

from planner.engine.booking import Options
from planner.engine.scenario.sizes import Size
from tests.bench.regions import Job, Row, measure, table

ROW = Row("whole", 1, 4, 8000, 90.0, 0.1, 9.0, 7900, 9000.0, 8000.0, 0.125, 0, 900.0)


def test_a_plan_is_measured_with_its_outcome() -> None:
    row = measure(Job(Size(300, 2, 2, regions=2), 1, Options(effort=1), apart=True, draws=1000))
    assert (row.how, row.workers, row.regions, row.requests) == ("regions", 1, 2, 300)
    assert row.broken == 0
    assert row.bound <= row.cost
    assert row.booked <= 300


def test_speed_up_is_over_the_first_row() -> None:
    twice = Row("regions", 2, 4, 8000, 45.0, 0.1, 9.0, 7890, 9100.0, 8000.0, None, 0, 500.0)
    lines = table([ROW, twice]).splitlines()
    assert len(lines) == 4
    assert re.search(r"\| 90 \| 1\.00 \| 9,000 \| 7,900 of 8,000 \| 12\.5% \| 900 \|", lines[2])
    assert re.search(r"\| 45 \| 2\.00 \| 9,100 \| 7,890 of 8,000 \| none \| 500 \|", lines[3])
