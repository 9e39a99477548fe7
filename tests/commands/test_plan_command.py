"""``manage.py plan`` from the outside: files, exit codes, what it says and when it ends."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.engine.codec import encode_network
from planner.engine.network import Appointment
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size
from planner.engine.verify import verify
from planner.gateway.files import read_network, read_plan
from tests.gateway.small import small_network

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "fixtures" / "demo-network.json"
EFFORT = ("--effort", "1")


def manage(*words: object) -> subprocess.CompletedProcess[str]:
    """Run the command line to its end."""
    line = [sys.executable, "manage.py", *map(str, words)]
    return subprocess.run(line, cwd=ROOT, capture_output=True, text=True, check=False)


def start(*words: object) -> subprocess.Popen[str]:
    """Start the command line, its stderr ready to be read line by line."""
    line = [sys.executable, "-u", "manage.py", *map(str, words)]
    return subprocess.Popen(
        line, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


@pytest.fixture
def network_file(tmp_path: Path) -> Path:
    path = tmp_path / "network.json"
    path.write_bytes(encode_network(small_network()))
    return path


def test_a_plan_is_written_with_progress_and_a_summary(network_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    ended = manage("plan", network_file, "--out", out, *EFFORT)
    assert ended.returncode == 0, ended.stderr
    plan = read_plan(out, read_network(network_file))
    answered = {item.request for item in plan.bookings} | {item.request for item in plan.unbooked}
    assert answered == {item.id for item in small_network().requests}
    assert re.search(r"s  \w.*cost +\S+ +bound +\S+ +gap +\S+ +booked +\S+", ended.stderr)
    assert f"booked      {len(plan.bookings)} of 4 requests" in ended.stdout
    assert f"not booked  {len(plan.unbooked)}" in ended.stdout
    assert "promises    wait over 15 min at most 10.0%" in ended.stdout
    assert f"cost        {plan.objective:,.2f}, bound {plan.bound:,.2f}" in ended.stdout
    assert str(out) in ended.stdout


@pytest.mark.parametrize(
    ("bound", "told"),
    [("plain", []), ("capacity", ["capacity"]), ("strong", ["strong", "capacity"])],
)
def test_the_summary_tells_of_the_bound_what_is_asked(
    network_file: Path, tmp_path: Path, bound: str, told: list[str]
) -> None:
    ended = manage("plan", network_file, "--out", tmp_path / "p.json", "--bound", bound, *EFFORT)
    assert ended.returncode == 0, ended.stderr
    words = [line.split()[0] for line in ended.stdout.splitlines()]
    after = words[words.index("cost") + 1 : words.index("seconds")]
    assert after == told


def test_regions_are_planned_apart_and_joined(tmp_path: Path) -> None:
    made = generate(Size(800, 4, 3, regions=2), seed=1)
    network_file, out = tmp_path / "network.json", tmp_path / "plan.json"
    network_file.write_bytes(encode_network(made))
    ended = manage("plan", network_file, "--out", out, "--regions", "--workers", "2", *EFFORT)
    assert ended.returncode == 0, ended.stderr
    assert "2 of 2 regions planned" in ended.stderr
    found = read_plan(out, made)
    assert verify(made, found, draws=2000, seed=5, care_may_be_unplaced=False) == ()


def test_quiet_says_nothing(network_file: Path, tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    ended = manage("plan", network_file, "--out", out, "--quiet", *EFFORT)
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "", "")
    assert out.is_file()


def test_same_seed_effort_and_one_worker_give_the_same_plan(
    network_file: Path, tmp_path: Path
) -> None:
    plans: list[dict[str, Any]] = []
    for name in ("one.json", "two.json"):
        out = tmp_path / name
        manage("plan", network_file, "--out", out, "--quiet", "--seed", 7, *EFFORT)
        plans.append(json.loads(out.read_bytes()))
        del plans[-1]["seconds"]
    assert json.dumps(plans[0]) == json.dumps(plans[1])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--seconds", "5", "--effort", "1"), "not allowed with"),
        (("--seconds", "0"), "not a number of seconds above 0"),
        (("--seconds", "nan"), "not a number of seconds above 0"),
        (("--seconds", "soon"), "not a number of seconds above 0"),
        (("--effort", "0"), "not a whole number from 1"),
        (("--effort", "1.5"), "not a whole number from 1"),
        (("--workers", "0"), "not a whole number from 1"),
        (("--seed", "-1"), "not a whole number from 0"),
        (("--seed", "9" * 5000), "not a whole number from 0"),
        (("--speed", "9"), "unrecognized arguments"),
    ],
)
def test_a_budget_that_makes_no_sense_is_a_usage_error(
    network_file: Path, tmp_path: Path, words: tuple[str, ...], said: str
) -> None:
    out = tmp_path / "plan.json"
    ended = manage("plan", network_file, "--out", out, *words)
    assert ended.returncode == 2
    assert said in ended.stderr
    assert not out.exists()


def test_out_is_required(network_file: Path) -> None:
    ended = manage("plan", network_file)
    assert ended.returncode == 2
    assert "--out" in ended.stderr


def test_a_refused_file_lists_every_fault_and_changes_nothing(
    network_file: Path, tmp_path: Path
) -> None:
    raw = json.loads(network_file.read_bytes())
    raw["grain"] = 0
    raw["requests"][1]["duee"] = "2027-03-09"
    network_file.write_text(json.dumps(raw))
    out = tmp_path / "plan.json"
    out.write_text("as it was")
    ended = manage("plan", network_file, "--out", out, *EFFORT)
    assert ended.returncode == 2
    lines = ended.stderr.splitlines()
    assert [line.split(":")[0] for line in lines] == ["grain", "requests[1].duee"]
    assert all(";" in line for line in lines)
    assert out.read_text() == "as it was"


def test_a_missing_network_is_refused_by_name(tmp_path: Path) -> None:
    ended = manage("plan", tmp_path / "none.json", "--out", tmp_path / "plan.json")
    assert ended.returncode == 2
    assert ended.stderr.startswith(f"{tmp_path / 'none.json'}: cannot be read")


def test_a_place_that_cannot_be_written_is_refused_before_planning(
    network_file: Path, tmp_path: Path
) -> None:
    for out in (tmp_path, tmp_path / "none" / "plan.json", network_file):
        ended = manage("plan", network_file, "--out", out, *EFFORT)
        assert ended.returncode == 2
        assert ended.stderr.startswith(f"{out}: ")
        assert len(ended.stderr.splitlines()) == 1
    assert read_network(network_file) == small_network()


def test_fixed_appointments_that_collide_are_named(network_file: Path, tmp_path: Path) -> None:
    network = small_network()
    fixed = network.appointments[0]
    clash = Appointment("a2", "r1", fixed.station, fixed.technician, fixed.start + 5, 20, True)
    network_file.write_bytes(encode_network(replace(network, appointments=(fixed, clash))))
    out = tmp_path / "plan.json"
    ended = manage("plan", network_file, "--out", out, *EFFORT)
    assert ended.returncode == 3
    assert "a1" in ended.stderr
    assert "a2" in ended.stderr
    assert not out.exists()


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_stopped_writes_the_best_plan_so_far(
    tmp_path: Path, number: signal.Signals
) -> None:
    out = tmp_path / "plan.json"
    run = start("plan", DEMO, "--out", out, "--seconds", 300)
    assert run.stderr is not None
    for line in run.stderr:
        if "cost" in line and not re.search(r"cost +-", line):
            break
    run.send_signal(number)
    _, said = run.communicate(timeout=120)
    assert run.returncode == 0, said
    assert f"stopped early; the best checked plan so far is in {out}" in said
    network = read_network(DEMO)
    plan = read_plan(out, network)
    assert len(plan.bookings) + len(plan.unbooked) == len(network.requests)


def test_a_run_that_is_stopped_before_there_is_a_plan_writes_nothing(tmp_path: Path) -> None:
    out = tmp_path / "plan.json"
    out.write_text("as it was")
    run = start("plan", DEMO, "--out", out, "--seconds", 300)
    assert run.stderr is not None
    run.stderr.readline()
    run.send_signal(signal.SIGINT)
    _, said = run.communicate(timeout=120)
    assert run.returncode == 130, said
    assert "stopped before there was a plan" in said
    assert out.read_text() == "as it was"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_to_the_whole_group_while_processes_start_leaves_a_plan(
    tmp_path: Path, number: signal.Signals
) -> None:
    """A terminal's Ctrl-C, and a service manager's stop, go to the run's processes as well."""
    out = tmp_path / "plan.json"
    line = [sys.executable, "-u", "manage.py", "plan", str(DEMO), "--out", str(out)]
    run = subprocess.Popen(
        [*line, "--seconds", "300", "--workers", "2"],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        assert run.stderr is not None
        for heard in run.stderr:
            if "timetable" in heard:
                break
        time.sleep(0.3)  # the processes are importing, before anything of ours could run in them
        os.killpg(run.pid, number)
        _, said = run.communicate(timeout=120)
    finally:
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
    assert run.returncode == 0, said
    assert out.exists()
