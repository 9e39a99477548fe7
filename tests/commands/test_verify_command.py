"""``manage.py verify`` says which rules a plan breaks, and how it ends."""

from __future__ import annotations

from dataclasses import replace
from io import StringIO
from typing import TYPE_CHECKING

import pytest
from django.core.management import CommandError, call_command

from planner.engine.codec import encode_network, encode_plan
from tests.engine.verify.good import NETWORK, PLAN, at, booked

if TYPE_CHECKING:
    from pathlib import Path

    from planner.engine.plan import Plan


def _run(folder: Path, plan: Plan, *further: str) -> tuple[int | str | None, list[str]]:
    """Exit code and the lines printed for a plan of the good network."""
    (folder / "network.json").write_bytes(encode_network(NETWORK))
    (folder / "plan.json").write_bytes(encode_plan(plan, NETWORK))
    out = StringIO()
    files = (folder / "network.json", folder / "plan.json")
    code: int | str | None = 0
    try:
        call_command("verify", *files, *further, stdout=out)
    except SystemExit as end:
        code = end.code
    return code, out.getvalue().splitlines()


def test_a_good_plan_ends_with_0_and_says_what_was_checked(tmp_path: Path) -> None:
    code, lines = _run(tmp_path, PLAN, "--draws", "500")
    assert code == 0
    assert lines == [
        "The plan keeps all ten rules: 7 bookings, 2 care, 3 breaks and 2 unbooked requests "
        "checked, the promises by 500 drawn runs."
    ]


def test_broken_rules_are_printed_by_number_with_their_things(tmp_path: Path) -> None:
    plan = replace(booked(PLAN, "r5", station="n2", told=at(9, 25)), moved=("a9",), gap=None)
    code, lines = _run(tmp_path, plan, "--draws", "500")
    assert code == 1
    assert [line.split(":")[0] for line in lines[:-1]] == ["rule 1", "rule 2", "rule 7", "rule 10"]
    assert "r5" in lines[0]
    assert "2026-03-02T09:30" in lines[0]
    assert lines[1] == "rule 2: r5 asks for the feature accessible, which n2 lacks [r5, n2]"
    assert lines[-1].startswith("The plan breaks 4 of the ten rules, 4 breaches: 1 of rule 1,")


@pytest.mark.parametrize("missing", ["network.json", "plan.json"])
def test_a_file_that_cannot_be_read_ends_with_2(tmp_path: Path, missing: str) -> None:
    _run(tmp_path, PLAN, "--draws", "1")
    (tmp_path / missing).unlink()
    err = StringIO()
    with pytest.raises(SystemExit) as end:
        call_command("verify", tmp_path / "network.json", tmp_path / "plan.json", stderr=err)
    assert end.value.code == 2
    assert missing in err.getvalue()


def test_a_plan_that_is_not_json_ends_with_2(tmp_path: Path) -> None:
    _run(tmp_path, PLAN, "--draws", "1")
    (tmp_path / "plan.json").write_text('{"format": NaN}')
    err = StringIO()
    with pytest.raises(SystemExit) as end:
        call_command("verify", tmp_path / "network.json", tmp_path / "plan.json", stderr=err)
    assert end.value.code == 2
    assert "line 1" in err.getvalue()


@pytest.mark.parametrize("draws", ["0", "-5", "many", "1.5"])
def test_draws_below_one_are_a_usage_error(tmp_path: Path, draws: str) -> None:
    with pytest.raises(CommandError, match="not a whole number of at least 1"):
        _run(tmp_path, PLAN, "--draws", draws)
