"""``manage.py offers`` answers one caller, and how it ends."""

from __future__ import annotations

import json
from io import StringIO
from typing import TYPE_CHECKING, Any

import pytest
from django.core.management import CommandError, call_command

from planner.engine.codec import encode_network, encode_plan
from planner.engine.network import Network, Policy
from planner.engine.plan import Plan
from tests.engine.booking.build import COST, at
from tests.engine.booking.offers.hall import booked, hall, request
from tests.engine.verify.good import NETWORK, PLAN

if TYPE_CHECKING:
    from pathlib import Path

FULL = hall(
    request("x"), request("a"), request("b"), request("c", due=5),
    no_show=0.3, policy=Policy(15, 1.0, 20, 1.0, COST),
)  # fmt: skip
FULL_PLAN = booked(FULL, ("a", at(9)), ("b", at(9, 20)), ("c", at(9, 40)))
NEW = {
    "id": "walk-in",
    "profile": "flats",
    "release": "2026-03-03",
    "due": "2026-03-03",
    "weight": 1,
    "sites": [{"site": "north", "travel": 20}],
}


def _run(
    folder: Path, asked: str, *further: str, of: tuple[Network, Plan] = (NETWORK, PLAN)
) -> tuple[int | str | None, str, str]:
    """Exit code and what was printed for a request of the good network."""
    (folder / "network.json").write_bytes(encode_network(of[0]))
    (folder / "plan.json").write_bytes(encode_plan(of[1], of[0]))
    out, err = StringIO(), StringIO()
    files = (folder / "network.json", folder / "plan.json")
    code: int | str | None = 0
    try:
        call_command("offers", *files, "--request", asked, *further, stdout=out, stderr=err)
    except SystemExit as end:
        code = end.code
    return code, out.getvalue(), err.getvalue()


def test_a_table_has_a_line_and_a_sentence_for_each_free_time(tmp_path: Path) -> None:
    code, out, _ = _run(tmp_path, "r6", "--top", "2")
    lines = out.splitlines()
    assert code == 0
    assert lines[0].split()[:6] == ["told", "start", "min", "site", "station", "technician"]
    assert lines[1].split()[:7] == ["2026-03-03", "09:10", "09:12", "20", "north", "n2", "t2"]
    assert lines[4].startswith("1 to 2. on time; 1 day after release (+0.20)")
    assert lines[-1] == "Leaving r6 out costs 20.00."


def test_json_has_every_figure(tmp_path: Path) -> None:
    code, out, _ = _run(tmp_path, "r6", "--top", "1", "--json")
    value: dict[str, Any] = json.loads(out)
    assert code == 0
    (offer,) = value["offers"]
    wanted = {
        "site": "north", "station": "n2", "technician": "t2", "start": "2026-03-03T09:12",
        "told": "2026-03-03T09:10", "minutes": 20, "travel": 0, "delay_days": 0, "cost": 0.2,
        "price": 0.0,
    }  # fmt: skip
    assert {key: offer[key] for key in wanted} == wanted
    assert 0 <= offer["p_wait"] <= 0.1
    assert value["displaces"] == value["waiting_list"] == []
    assert value["reserve"] is None


def test_a_file_holds_a_request_that_the_network_does_not_know(tmp_path: Path) -> None:
    (tmp_path / "new.json").write_text(json.dumps(NEW))
    code, out, _ = _run(tmp_path, str(tmp_path / "new.json"), "--json")
    value = json.loads(out)
    assert (code, value["request"]) == (0, "walk-in")
    assert {offer["minutes"] for offer in value["offers"]} == {12}


def test_a_full_day_names_who_would_move_with_the_caution(tmp_path: Path) -> None:
    code, out, _ = _run(tmp_path, "x", of=(FULL, FULL_PLAN))
    assert code == 0
    assert "if c moves from 2026-03-02 09:40 at hall to 2026-03-03 09:00 at hall" in out
    assert "A plan, not a decision about a person" in out
    assert "66% that somebody does not come to one of the 3 places" in out


def test_where_nothing_is_free_it_says_so(tmp_path: Path) -> None:
    full = hall(request("x"), request("a"), request("b"), request("c"), days=1)
    plan = booked(full, ("a", at(9)), ("b", at(9, 20)), ("c", at(9, 40)))
    code, out, _ = _run(tmp_path, "x", of=(full, plan))
    assert code == 0
    assert out.startswith("No free time for x keeps every rule.")
    assert "The plan says why: every place is taken; none." in out.splitlines()


@pytest.mark.parametrize(
    ("asked", "said"),
    [("nobody", "'nobody' is no request of the network, and no such file"), ("r1", "fixed")],
)
def test_an_id_that_cannot_be_served_ends_with_2(tmp_path: Path, asked: str, said: str) -> None:
    code, out, err = _run(tmp_path, asked)
    assert (code, out) == (2, "")
    assert said in err
    assert err.startswith("--request: ")


@pytest.mark.parametrize(
    ("text", "path"),
    [
        ("{", "line 1, column 2"),
        (json.dumps(NEW | {"profile": "unheard-of"}), "profile"),
        (json.dumps(NEW | {"weight": 0, "duee": "2026-03-03"}), "duee"),
        ("[]", "new.json"),
    ],
)
def test_a_file_that_is_no_request_ends_with_2(tmp_path: Path, text: str, path: str) -> None:
    (tmp_path / "new.json").write_text(text)
    code, out, err = _run(tmp_path, str(tmp_path / "new.json"))
    assert (code, out) == (2, "")
    assert any(path in line.split(": ")[0] for line in err.splitlines())


def test_a_plan_of_another_network_ends_with_2(tmp_path: Path) -> None:
    code, out, err = _run(tmp_path, "x", of=(FULL, PLAN))
    assert (code, out) == (2, "")
    assert err.startswith("plan, rule 1: ")
    assert "name the network that the plan was made for" in err


@pytest.mark.parametrize("top", ["0", "-1", "ten", "1001", "1.5"])
def test_a_top_that_makes_no_sense_is_a_usage_error(tmp_path: Path, top: str) -> None:
    with pytest.raises(CommandError, match="not a whole number from 1 to 1000"):
        _run(tmp_path, "r6", "--top", top)
