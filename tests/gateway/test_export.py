"""The table of appointments, and the check of a place to write to."""

from __future__ import annotations

import csv
import io
import os
from dataclasses import replace
from pathlib import Path

import pytest

from planner.engine.errors import FileRefused
from planner.gateway.export import appointments_csv, refuse_unwritable
from tests.gateway.small import small_network, small_plan


def rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def test_a_row_says_everything_about_an_appointment() -> None:
    found = rows(appointments_csv(small_network(), small_plan()))
    assert [row["request"] for row in found] == ["r1", "r2", "r3"]
    assert found[2] == {
        "site": "harbour",
        "timezone": "Europe/Lisbon",
        "date": "2027-03-09",
        "told": "10:00",
        "start": "10:03",
        "end": "10:23",
        "minutes": "20",
        "station": "H2",
        "technician": "bo",
        "request": "r3",
        "profile": "usual",
        "rework": "no",
        "fixed": "yes",
        "due": "2027-03-08",
        "days_late": "1",
        "p_wait": "0.2000",
    }
    assert found[1]["rework"] == "yes"


def test_lines_end_as_the_csv_standard_says() -> None:
    """RFC 4180, 2.1: records end in CRLF (from memory)."""
    data = appointments_csv(small_network(), small_plan())
    assert data.count(b"\r\n") == data.count(b"\n") == 4


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_an_id_never_reaches_a_spreadsheet_as_a_formula(start: str) -> None:
    """The characters that start a formula, and the apostrophe: OWASP, CSV Injection (memory)."""
    network, plan = small_network(), small_plan()
    name = f"{start}1+1"
    first, *others = network.requests
    network = replace(network, requests=(replace(first, id=name), *others))
    plan = replace(plan, bookings=(replace(plan.bookings[0], request=name),))
    assert rows(appointments_csv(network, plan))[0]["request"] == f"'{name}"


def test_a_place_that_can_be_written_is_left_as_it_was(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    out.write_text("old")
    refuse_unwritable(out, tmp_path / "network.json")
    assert [path.name for path in tmp_path.iterdir()] == ["plan.json"]
    assert out.read_text() == "old"


def test_folders_inputs_and_missing_folders_are_refused_by_name(tmp_path: Path) -> None:
    network = tmp_path / "network.json"
    network.write_text("{}")
    for out, problem in (
        (tmp_path, "is a folder"),
        (tmp_path / "." / "network.json", "is a file that is read in this run"),
        (tmp_path / "none" / "plan.json", "cannot be written"),
        (network / "plan.json", "cannot be written"),
    ):
        with pytest.raises(FileRefused, match=problem) as caught:
            refuse_unwritable(out, network)
        assert caught.value.faults[0].path == str(out)


def test_a_link_to_the_input_is_the_input(tmp_path: Path) -> None:
    network = tmp_path / "network.json"
    network.write_text("{}")
    os.symlink(network, tmp_path / "plan.json")
    with pytest.raises(FileRefused, match="is a file that is read"):
        refuse_unwritable(tmp_path / "plan.json", network)
