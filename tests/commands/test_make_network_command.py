"""``make_network`` writes what it says, the same bytes every time, and the committed fixtures."""

from __future__ import annotations

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from planner.engine.codec import decode_network
from planner.engine.errors import FileRefused
from planner.engine.scenario.small import SMALL

FIXTURES = Path(__file__).parents[2] / "fixtures"
MADE = {"demo-network.json": ["--demo"]} | {
    f"small-{name}.json": ["--small", name] for name in SMALL
}


def make(out: Path, *options: str) -> str:
    said = StringIO()
    call_command("make_network", *options, "--out", str(out), stdout=said)
    return said.getvalue()


@pytest.mark.parametrize("name", MADE)
def test_a_committed_fixture_is_made_again_byte_for_byte(name: str, tmp_path: Path) -> None:
    make(tmp_path / name, *MADE[name])
    assert (tmp_path / name).read_bytes() == (FIXTURES / name).read_bytes()


def test_every_fixture_is_one_that_is_made_or_refused_and_has_its_line() -> None:
    files = {path.name for path in FIXTURES.glob("*.json")}
    assert files == {*MADE, "small-refused.json"}
    readme = (FIXTURES / "README.md").read_text(encoding="utf-8")
    assert all(f"| `{name}` |" in readme for name in files)


def test_the_refused_fixture_has_14_faults_as_its_line_says() -> None:
    with pytest.raises(FileRefused) as refusal:
        decode_network((FIXTURES / "small-refused.json").read_bytes())
    assert [fault.path for fault in refusal.value.faults] == [
        "grain",
        "policy.wait_risk",
        "profiles[0].captures[1].retake",
        "sites[0].timezone",
        "sites[0].open[0].to",
        "stations[0].site",
        "technicians[0].shifts[0].break_minutes",
        "requests[0].duee",
        "requests[0].due",
        "requests[1].id",
        "requests[1].due",
        "requests[1].sites[0].travel",
        "requests[2].release",
        "requests[2].weight",
    ]


def test_a_size_is_written_and_described(tmp_path: Path) -> None:
    said = make(tmp_path / "s.json", "--size", "S", "--seed", "4")
    network = decode_network((tmp_path / "s.json").read_bytes())
    assert len(network.requests) == 600
    assert "4 sites" in said
    assert f"{len(network.technicians)} technicians" in said


def test_saturated_asks_for_half_as_much_again(tmp_path: Path) -> None:
    said = make(tmp_path / "s.json", "--size", "S", "--saturated")
    assert said.splitlines()[-1].split()[-1] == "1.50"


def test_finer_options_replace_those_of_the_size(tmp_path: Path) -> None:
    options = ("--size", "S", "--requests", "900", "--sites", "3", "--days", "4")
    make(tmp_path / "s.json", *options)
    network = decode_network((tmp_path / "s.json").read_bytes())
    assert (len(network.requests), len(network.sites), network.days) == (900, 3, 4)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--size", "S", "--load", "0"), "load: expected a number above 0"),
        (("--size", "S", "--sites", "100"), "ask for more requests or fewer sites"),
        (("--size", "S", "--days", "0"), "days: expected at least 1, got 0"),
        (("--size", "S", "--regions", "5"), "regions: expected at most 4, got 5"),
        (("--demo", "--load", "1.2"), "--load: goes with --size"),
        (("--demo", "--regions", "2"), "--regions: goes with --size"),
        (("--small", "empty", "--saturated"), "--saturated: goes with --size"),
    ],
)
def test_what_cannot_be_made_is_refused_and_nothing_written(
    options: tuple[str, ...], words: str, tmp_path: Path
) -> None:
    with pytest.raises(CommandError, match=words) as refusal:
        make(tmp_path / "s.json", *options)
    assert refusal.value.returncode == 2
    assert not list(tmp_path.iterdir())
