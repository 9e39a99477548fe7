"""The benchmark measures what it says and hides no failure; nothing here looks at the clock."""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from planner.engine.errors import NetworkImpossible
from tests.bench.scale import main
from tests.bench.scale_measure import Job, Row, measure
from tests.bench.scale_table import table_text, write_csv

FIXTURES = Path(__file__).parents[2] / "fixtures"
SMALL = Row("S", 600, 4, 30, 5, 1.0, 20.0, 0.2, 0.1, 0.01, 0.02, 200.0)
LARGE = replace(SMALL, case="M", requests=6000, make_s=0.5, read_s=0.5, plan_s=40.0, gap=0.25)


def test_a_planned_network_is_measured_with_its_outcome() -> None:
    row = measure(Job(str(FIXTURES / "small-one-station.json"), effort=1, draws=2000))
    assert (row.case, row.requests, row.sites, row.station_days) == ("small-one-station", 8, 1, 2)
    assert (row.booked, row.unbooked, row.broken) == (8, 0, 0)
    assert row.plan_s is not None
    assert row.check_s is not None


def test_read_only_measures_no_plan() -> None:
    row = measure(Job("S", plans=False))
    assert (row.requests, row.plan_s, row.booked) == (600, None, None)


def test_an_impossible_network_fails_the_measurement() -> None:
    with pytest.raises(NetworkImpossible):
        measure(Job(str(FIXTURES / "small-impossible-fixed.json"), effort=1))


def test_the_command_goes_on_after_a_failure_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    refused, good = (str(FIXTURES / f"small-{name}.json") for name in ("refused", "one-station"))
    status = main([refused, good, "--read-only", "--csv", str(tmp_path / "rows.csv")])
    said = capsys.readouterr()
    assert status == 1
    assert "requests[0].duee" in said.err
    assert "small-one-station" in said.out
    assert "small-one-station" in (tmp_path / "rows.csv").read_text(encoding="utf-8")


def test_growth_is_the_ratio_of_neighbouring_rows() -> None:
    *_, head, grown = (line.split() for line in table_text([SMALL, LARGE]).splitlines())
    ratios = dict(zip(head[1:], grown[3:], strict=True))
    assert ratios["requests"] == "x10.0"
    assert ratios["make_s"] == "x5.0"
    assert ratios["read_s"] == "x25.0"
    assert ratios["plan_s"] == "none"


def test_csv_holds_every_value_unrounded_under_its_name(tmp_path: Path) -> None:
    write_csv(tmp_path / "rows.csv", [SMALL, LARGE])
    with (tmp_path / "rows.csv").open(encoding="utf-8", newline="") as file:
        first, second = csv.DictReader(file)
    assert (first["case"], first["plan_s"], first["write_s"]) == ("S", "", "0.01")
    assert (second["case"], second["plan_s"], second["gap"]) == ("M", "40.0", "0.25")
