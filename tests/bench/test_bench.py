"""The benchmark hides no failure, compares like with like, and loses no row; nothing is timed."""

from __future__ import annotations

import json
import re
import time
from dataclasses import replace
from pathlib import Path

import pytest

from planner.engine.booking import Options, plan
from planner.engine.network import Network, Station
from tests.bench.__main__ import main
from tests.bench.apart import DONE, MEMORY_FULL, NOT_IN_TIME, run_apart
from tests.bench.contest import CONTESTANTS, Case, contend
from tests.bench.judge import judged, used_room, with_chances
from tests.bench.page import page
from tests.bench.report import main as report
from tests.bench.rivals.answer import Ask, NoPlan
from tests.bench.rivals.served import serve
from tests.bench.rows import (
    OURS,
    SLOTS,
    Row,
    read_rows,
    sessions_against_slots,
    with_gaps,
    write_rows,
)
from tests.bench.table import HEADS, lines, markdown
from tests.engine.booking.build import (
    FULL,
    USUAL,
    at,
    certain_profile,
    network,
    one_desk,
    request,
    rested,
    site,
    technician,
)
from tests.engine.booking.test_lengths import hall

FIXTURES = Path(__file__).parents[2] / "fixtures"
SMALL = str(FIXTURES / "small-one-station.json")
PLENTY = 20_000.0
"""MB that none of these processes reaches."""
PLANNED = Row("S", 1, 1.0, 600, 4, 30, OURS, DONE, 10.0, 9.0, 300.0, cost=110.0, booked=560,
              bound=100.0, over=0.0, worst=0.1, late_ends=0, used=0.9, broken=0)  # fmt: skip
SLOTTED = replace(PLANNED, contestant=SLOTS, cost=550.0, booked=400, bound=None)
WHOLE = replace(PLANNED, contestant="monolith", cost=120.0, bound=104.0)
NONE_FOUND = replace(
    WHOLE, seed=2, ended=NOT_IN_TIME, cost=None, booked=None, bound=None, over=None, worst=None,
    late_ends=None, used=None, broken=None,
)  # fmt: skip


def double(number: int) -> int:
    return 2 * number


def fail(why: str) -> None:
    raise ZeroDivisionError(why)


def give_up(why: str) -> None:
    raise NoPlan(why)


def last_for_ever(_: object) -> None:
    while True:
        time.sleep(1)


def grow(megabytes: int) -> None:
    held = bytearray(megabytes * 1_000_000)
    held[::1024] = b"x" * len(held[::1024])
    last_for_ever(held)


def test_work_apart_ends_with_its_value_and_its_memory() -> None:
    ran = run_apart(double, 21, seconds=None, memory_mb=PLENTY)
    assert (ran.ended, ran.value) == (DONE, 42)
    assert 1 < ran.peak_mb < PLENTY


def test_work_apart_that_has_no_plan_says_so() -> None:
    assert run_apart(give_up, "care c1", seconds=None, memory_mb=PLENTY).ended == "care c1"


def test_work_apart_that_fails_is_a_failure_with_its_words() -> None:
    ran = run_apart(fail, "by nothing", seconds=None, memory_mb=PLENTY)
    assert ran.ended == "failed: ZeroDivisionError: by nothing"


def test_work_apart_is_ended_when_its_time_is_up() -> None:
    ran = run_apart(last_for_ever, 0, seconds=0.3, memory_mb=PLENTY)
    assert (ran.ended, ran.value) == (NOT_IN_TIME, None)


def test_work_apart_is_ended_when_it_outgrows_its_memory() -> None:
    ran = run_apart(grow, 1500, seconds=None, memory_mb=1000)
    assert ran.ended == MEMORY_FULL
    assert ran.peak_mb > 1000


def test_gaps_are_to_the_strongest_bound_on_the_same_network() -> None:
    other = replace(PLANNED, seed=2, bound=55.0)
    rows = with_gaps([PLANNED, SLOTTED, WHOLE, other])
    assert [row.gap for row in rows] == pytest.approx(
        [110 / 104 - 1, 550 / 104 - 1, 120 / 104 - 1, 1.0]
    )


def test_a_bound_for_other_lengths_gives_no_gap() -> None:
    rows = with_gaps([PLANNED, replace(SLOTTED, bound_holds=False)])
    assert rows[1].gap is None


def test_our_bound_holds_for_the_lengths_that_we_chose() -> None:
    """A day that is asked for more than it holds is planned with less than the planned minutes."""
    row = contend(Case("hall", hall(40), 1, 10.0, effort=1, draws=500), OURS, None)
    assert json.loads(row.lengths)["full"] < 18
    (found,) = with_gaps([row])
    assert found.gap is not None
    assert found.gap > 0


def test_sessions_are_counted_against_the_slots_of_the_same_network() -> None:
    other = replace(PLANNED, seed=2)
    assert sessions_against_slots([PLANNED, SLOTTED, other]) == {
        ("S", 1, OURS): 1.4, ("S", 1, SLOTS): 1.0,
    }  # fmt: skip


def test_rows_come_back_from_csv_as_they_were(tmp_path: Path) -> None:
    rows = with_gaps([PLANNED, SLOTTED, NONE_FOUND])
    write_rows(tmp_path / "rows.csv", rows)
    assert read_rows(tmp_path / "rows.csv") == rows


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [("110.0", "many", r"line 2, cost: 'many'"), ("contestant", "who", "columns")],
)
def test_a_csv_that_is_not_ours_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    path = tmp_path / "rows.csv"
    write_rows(path, [PLANNED])
    path.write_text(path.read_text("utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(ValueError, match=said):
        read_rows(path)


def test_a_line_says_how_many_networks_have_a_plan_and_what_came_of_the_others() -> None:
    found = {line.contestant: line for line in lines([PLANNED, SLOTTED, WHOLE, NONE_FOUND])}
    assert (found["monolith"].plans, found["monolith"].networks) == (1, 2)
    text = markdown([PLANNED, SLOTTED, WHOLE, NONE_FOUND], "python -m tests.bench S")
    assert "| 120 (1 of 2), else no plan in time |" in text
    assert text.splitlines()[0].count("|") == len(HEADS) + 1
    assert {line.count("|") for line in text.splitlines()[:5]} == {len(HEADS) + 1}
    assert "`python -m tests.bench S` on 2 networks" in text


def test_the_page_stands_alone_and_shows_every_row() -> None:
    rows = [PLANNED, SLOTTED, WHOLE, NONE_FOUND]
    text = page(rows, "python -m tests.bench S <M>")
    assert not re.findall(r"""(?:src|href)=["'](?!#)|url\((?!#)|@import|http""", text)
    assert text.count("<tr") == 1 + 3 + 1 + len(rows)
    assert "S &lt;M&gt;" in text
    assert text.count("<polyline") == 3
    assert "prefers-color-scheme: dark" in text


def test_a_saturated_network_is_drawn_apart() -> None:
    full = replace(PLANNED, case="S saturated x3", requests=1800)
    text = page([PLANNED, full], "python -m tests.bench S")
    assert text.count("<svg") == 2
    assert "<p>Saturated x3</p>" in text


def test_rows_of_several_runs_become_one_table(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_rows(tmp_path / "a.csv", [PLANNED, SLOTTED])
    write_rows(tmp_path / "b.csv", [WHOLE, replace(PLANNED, cost=130.0)])
    names = [str(tmp_path / "a.csv"), str(tmp_path / "b.csv")]
    assert report([*names, "--command", "python -m tests.bench S", "--out", str(tmp_path)]) == 0
    rows = read_rows(tmp_path / "rows.csv")
    assert [(row.contestant, row.cost) for row in rows] == [
        (OURS, 130.0), (SLOTS, 550.0), ("monolith", 120.0),
    ]  # fmt: skip
    assert rows[0].gap == pytest.approx(130 / 104 - 1)
    assert "| S | Platen | 130 |" in (tmp_path / "table.md").read_text("utf-8")
    assert "<svg" in (tmp_path / "index.html").read_text("utf-8")
    assert report([str(tmp_path / "none.csv"), "--out", str(tmp_path)]) == 1
    assert "none.csv" in capsys.readouterr().err


def two_of_three_hours() -> Network:
    """From 9 to 12: half an hour of break, half an hour shut; four sessions of 30 minutes."""
    rest = rested("hall", at(9), at(12), 30)
    return network(
        (site("hall", (at(9), at(12))),),
        (Station("desk", "hall"),),
        (technician("anna", rest),),
        tuple(request(f"r{k}", "m30", "hall") for k in range(4)),
        profiles=(certain_profile(30),),
    )


def test_used_room_is_session_minutes_over_the_room_of_rule_eight() -> None:
    """By hand: room 180 - 30 of break = 150 minutes, sessions 4 x 30 = 120."""
    given = two_of_three_hours()
    found = serve(Ask(given, {"m30": 30}, 1.0)).plan
    assert len(found.bookings) == 4
    assert used_room(given, found) == pytest.approx(120 / 150)


def test_the_judge_counts_promises_that_a_row_of_short_sessions_breaks() -> None:
    """Sessions of about 16 minutes planned at 12: the later ones of a row wait, and end late."""
    given = one_desk(
        tuple(request(f"r{k}", "full", "hall") for k in range(25)), at(9), at(14),
        profiles=(FULL,), policy=USUAL,
    )  # fmt: skip
    found = with_chances(given, serve(Ask(given, {"full": 12}, 1.0)).plan, 1)
    verdict = judged(given, found, draws=4000, seed=2)
    assert verdict.broken == 0
    assert verdict.over > 0.5
    assert verdict.worst > 0.5
    assert verdict.late_ends >= 1
    assert not verdict.keeps_promises


def test_the_judge_finds_our_own_plan_sound() -> None:
    given = two_of_three_hours()
    verdict = judged(given, plan(given, Options(effort=1)), draws=2000, seed=1)
    assert (verdict.broken, verdict.over, verdict.late_ends) == (0, 0.0, 0)
    assert verdict.keeps_promises


def test_everybody_plans_a_small_network_and_a_second_run_adds_nobody(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    options = [SMALL, "--seeds", "1", "--effort", "1", "--draws", "2000", "--out", str(tmp_path)]
    assert main(options) == 0
    rows = read_rows(tmp_path / "rows.csv")
    assert [row.contestant for row in rows] == list(CONTESTANTS)
    assert {row.ended for row in rows} == {DONE}
    assert {row.broken for row in rows} == {0}
    proven = {row.contestant for row in rows if row.bound is not None}
    assert {OURS, "monolith", "monolith-started"} <= proven
    assert "monolith-95" not in proven  # of longer lengths than ours
    assert str(tmp_path) not in (tmp_path / "table.md").read_text("utf-8")
    assert "small-one-station" in capsys.readouterr().out
    before = (tmp_path / "rows.csv").read_bytes()
    assert main([*options, "--keep"]) == 0
    assert (tmp_path / "rows.csv").read_bytes() == before


def test_what_cannot_be_planned_is_a_row_that_says_why(tmp_path: Path) -> None:
    impossible = str(FIXTURES / "small-impossible-fixed.json")
    names = ["--contestants", OURS, SLOTS, "--seeds", "1", "--effort", "1"]
    assert main([impossible, *names, "--out", str(tmp_path)]) == 0
    rows = read_rows(tmp_path / "rows.csv")
    assert len(rows) == 2
    assert all("collide" in row.ended and not row.has_plan for row in rows)


def test_a_refused_file_ends_the_run_with_its_fault(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    refused = str(FIXTURES / "small-refused.json")
    assert main([refused, "--contestants", SLOTS, "--out", str(tmp_path)]) == 1
    assert "requests[0].duee" in capsys.readouterr().err
