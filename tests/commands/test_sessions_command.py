"""``manage.py sessions`` from the outside."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest
from django.core.management import call_command

if TYPE_CHECKING:
    from pathlib import Path

KEYS = ["profile", "mean", "sd", "q50", "q90", "q95", "mean_booked", "p_unmet", "planned"]


def profile(name: str, setup: list[float], retake: list[float], no_show: float) -> dict[str, Any]:
    return {
        "id": name,
        "setup": {"mean": setup[0], "sd": setup[1]},
        "captures": [
            {"kind": "plain", "count": 3, "seconds": 20, "retake": retake[0]},
            {"kind": "rolled", "count": 10, "seconds": 25, "retake": retake[1]},
        ],
        "max_attempts": 3,
        "remedy_seconds": 30,
        "wrapup": 3,
        "no_show": no_show,
        "skills": [],
    }


STANDARD = profile("standard", [7, 3], [0.10, 0.16], 0.08)
WORN = profile("worn", [8, 3], [0.25, 0.35], 0.06)


@pytest.fixture
def network(tmp_path: Path) -> Path:
    return write(tmp_path, [STANDARD, WORN])


def write(folder: Path, profiles: list[dict[str, Any]]) -> Path:
    content = {
        "format": "platen-network/1",
        "grain": 5,
        "first_day": "2030-01-07",
        "days": 5,
        "policy": {
            "wait_minutes": 15,
            "wait_risk": 0.10,
            "overtime_minutes": 20,
            "overtime_risk": 0.05,
            "cost": {
                "unbooked": 30,
                "late_day": 3,
                "wait_day": 0.1,
                "travel_minute": 0.01,
                "move": 2,
            },
        },
        "profiles": profiles,
        "sites": [],
        "stations": [],
        "technicians": [],
        "requests": [],
    }
    path = folder / "network.json"
    path.write_text(json.dumps(content))
    return path


def test_json_is_a_list_with_exactly_the_agreed_keys(
    network: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("sessions", str(network), "--json")
    rows = json.loads(capsys.readouterr().out)
    assert [list(row) for row in rows] == [KEYS, KEYS]
    assert [row["profile"] for row in rows] == ["standard", "worn"]
    assert [row["planned"] for row in rows] == [18, 22]
    assert [row["mean"] for row in rows] == pytest.approx([17.143, 21.279], abs=0.0005)
    assert [row["mean_booked"] for row in rows] == pytest.approx([15.772, 20.002], abs=0.0005)
    for row in rows:
        assert row["q50"] < row["q90"] < row["q95"]
    assert rows[0]["p_unmet"] == pytest.approx(1 - (1 - 0.10**3) ** 3 * (1 - 0.16**3) ** 10)


def test_the_table_is_aligned_and_names_its_units(
    network: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    call_command("sessions", str(network))
    head, *rows = capsys.readouterr().out.splitlines()
    assert head.count("min") == 7
    assert "unmet %" in head
    assert [row.split()[0] for row in rows] == ["standard", "worn"]
    assert [row.split()[-1] for row in rows] == ["18", "22"]
    assert {len(line) for line in rows} == {len(head)}


def test_a_network_without_profiles_has_nothing_to_say(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, chart = write(tmp_path, []), tmp_path / "lengths.svg"
    call_command("sessions", str(path), "--json", "--plot", str(chart))
    assert json.loads(capsys.readouterr().out) == []
    assert b"nothing to draw" in chart.read_bytes()


def test_the_chart_names_every_profile_and_its_planned_length(
    network: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    chart = tmp_path / "lengths.svg"
    chart.write_text("an older chart")
    call_command("sessions", str(network), "--plot", str(chart))
    assert "planned min" in capsys.readouterr().out
    root = ElementTree.fromstring(chart.read_bytes())  # noqa: S314 - our own file
    assert root.tag.endswith("svg")
    words = " ".join(root.itertext())
    for word in ("standard", "worn", "planned 18 min", "planned 22 min", "minutes since"):
        assert word in words
    assert list(tmp_path.glob(".lengths*")) == []


def test_a_refused_file_ends_with_2_and_leaves_the_old_chart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write(tmp_path, [STANDARD | {"no_show": 1.5, "max_attempts": 0}])
    chart = tmp_path / "lengths.svg"
    chart.write_text("an older chart")
    with pytest.raises(SystemExit) as ended:
        call_command("sessions", str(path), "--plot", str(chart))
    assert ended.value.code == 2
    shown = capsys.readouterr()
    assert "profiles[0].no_show" in shown.err
    assert "profiles[0].max_attempts" in shown.err
    assert shown.out == ""
    assert chart.read_text() == "an older chart"


def test_a_file_that_is_not_there_ends_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        call_command("sessions", str(tmp_path / "missing.json"))
    assert ended.value.code == 2
    assert "missing.json" in capsys.readouterr().err


def test_a_chart_that_cannot_be_written_ends_with_2(
    network: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        call_command("sessions", str(network), "--plot", str(tmp_path / "no" / "folder.svg"))
    assert ended.value.code == 2
    assert "folder.svg" in capsys.readouterr().err
