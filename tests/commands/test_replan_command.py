"""``manage.py replan`` from the outside: files, exit codes and what it says."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from planner.engine.codec import encode_network, encode_plan
from planner.engine.network import Appointment, Care, Network
from planner.engine.plan import CarePlaced, Plan
from planner.gateway.files import read_network, read_plan
from tests.engine.booking.build import at
from tests.engine.booking.replan.build import plan_by_hand, two_desks

ROOT = Path(__file__).resolve().parents[2]
ALL_DAY = ("2026-03-02T00:00", "2026-03-03T00:00")


def manage(*words: object) -> subprocess.CompletedProcess[str]:
    """Run the command line to its end."""
    line = [sys.executable, "manage.py", *map(str, words)]
    return subprocess.run(line, cwd=ROOT, capture_output=True, text=True, check=False)


class Desk:
    """A folder with a network and a plan, and the re-plan command on them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.out, self.network_out = folder / "plan2.json", folder / "network2.json"
        self.network, self.plan = folder / "network.json", folder / "plan.json"

    def write(self, network: Network, **further: Any) -> None:
        """Two people with anna and ben at 9:00, and whatever else the plan holds."""
        plan = plan_by_hand(
            network, ("r1", "d1", "anna", at(9)), ("r2", "d2", "ben", at(9)), **further
        )
        self.network.write_bytes(encode_network(network))
        self.plan.write_bytes(encode_plan(plan, network))

    def replan(self, *words: object) -> subprocess.CompletedProcess[str]:
        """Run ``replan`` on the two files."""
        return manage("replan", self.network, self.plan, "--out", self.out, "--network-out",
                      self.network_out, *words)  # fmt: skip

    def nothing_written(self) -> bool:
        """Whether neither result exists."""
        return not self.out.exists() and not self.network_out.exists()


def made(desk: Desk) -> Plan:
    """The plan that was written."""
    return read_plan(desk.out, read_network(desk.network_out))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    found = Desk(tmp_path)
    found.write(two_desks(2, days=2))
    return found


def test_every_event_at_once_gives_two_files_that_verify(desk: Desk) -> None:
    added = desk.folder / "new.json"
    asked = {"id": "new", "profile": "m20", "release": "2026-03-02", "due": "2026-03-04",
             "weight": 1, "sites": [{"site": "hall", "travel": 0}]}  # fmt: skip
    added.write_text(json.dumps([asked]))
    ended = desk.replan(
        "--down", "d1", "2026-03-02T09:00", "2026-03-02T10:00",
        "--down", "d2", "2026-03-02T11:00", "2026-03-02T12:00",
        "--absent", "anna", "2026-03-03T09:00", "2026-03-03T12:00",
        "--closed", "hall", "2026-03-02T11:30", "2026-03-02T12:00",
        "--cancel", "r2", "--add", added,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    network = read_network(desk.network_out)
    plan = read_plan(desk.out, network)
    assert {item.request for item in plan.bookings} == {"r1", "new"}
    assert [item.id for item in network.appointments] == ["r1"]
    checked = manage("verify", desk.network_out, desk.out, "--draws", 1000)
    assert checked.returncode == 0, checked.stdout


def test_it_says_who_moves_where_who_is_told_and_who_is_lost_and_why(desk: Desk) -> None:
    ended = desk.replan(
        "--closed", "hall", *ALL_DAY, "--absent", "anna", "2026-03-03T09:00", "2026-03-03T12:00",
        "--down", "d1", "2026-03-03T09:00", "2026-03-03T12:00",
        "--down", "d2", "2026-03-03T09:20", "2026-03-03T12:00",
    )  # fmt: skip
    assert ended.returncode == 0, ended.stderr
    lines = ended.stdout.splitlines()
    assert "affected    2" in lines
    assert "lost        1" in lines
    moves, lost, told = (lines.index(word) for word in ("moves", "lost", "to be told (2)"))
    assert moves < lost < told
    assert "2026-03-02T09:00" in lines[moves + 1]
    assert "-> 2026-03-03T09:00 d2 ben (site hall is closed; tell)" in lines[moves + 1]
    assert "(site hall is closed); full: " in lines[lost + 1]
    assert set(lines[told + 1].split()) == {"r1", "r2"}


def test_quiet_says_nothing(desk: Desk) -> None:
    ended = desk.replan("--cancel", "r1", "--quiet")
    assert (ended.returncode, ended.stdout, ended.stderr) == (0, "", "")
    assert desk.out.is_file()
    assert desk.network_out.is_file()


def test_the_same_events_give_the_same_files(desk: Desk) -> None:
    found = []
    for _ in range(2):
        assert desk.replan("--down", "d1", *ALL_DAY, "--seed", 3).returncode == 0
        plan = json.loads(desk.out.read_bytes())
        del plan["seconds"]
        found.append((plan, desk.network_out.read_bytes()))
    assert found[0] == found[1]


def test_care_that_can_no_longer_be_placed_is_named_and_that_is_no_error(desk: Desk) -> None:
    network = replace(two_desks(2, days=2), care=(Care("clean", "d1", 30, 0, 0, technician=False),))
    desk.write(network, care=(CarePlaced("clean", at(10)),))
    ended = desk.replan("--down", "d1", *ALL_DAY)
    assert ended.returncode == 0, ended.stderr
    plan = read_plan(desk.out, read_network(desk.network_out))
    assert [item.care for item in plan.care_unplaced] == ["clean"]
    assert f"  clean: {plan.care_unplaced[0].reason}" in ended.stdout.splitlines()


def test_a_fixed_appointment_on_a_station_that_is_gone_is_named(desk: Desk) -> None:
    fixed = Appointment("a1", "r1", "d1", "anna", at(9), 20, fixed=True)
    desk.write(two_desks(2, days=2, appointments=(fixed,)))
    ended = desk.replan("--down", "d1", *ALL_DAY)
    assert ended.returncode == 3
    assert "fixed appointment r1" in ended.stderr
    assert desk.nothing_written()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--down", "d9", *ALL_DAY), '--down d9: "d9" is no id in `stations`'),
        (("--absent", "zoe", *ALL_DAY), '--absent zoe: "zoe" is no id in `technicians`'),
        (("--closed", "mill", *ALL_DAY), '--closed mill: "mill" is no id in `sites`'),
        (("--cancel", "r9"), '--cancel r9: "r9" is no id in `requests`'),
        (("--down", "d1", "2026-03-02 09:00", "2026-03-02T10:00"), "--down d1: FROM"),
        (("--down", "d1", "2026-03-02T09:00", "2026-02-30T10:00"), "--down d1: TO"),
        (("--down", "d1", ALL_DAY[1], ALL_DAY[0]), "--down d1: TO (2026-03-02T00:00) is not after"),
        (("--add", "none.json"), "none.json: cannot be read"),
        (("--down", "d1", "2026-03-02T09:00", "2026-03-02T09:00"), "is not after FROM"),
        (
            ("--down", "d1", "2026-03-09T09:00", "2026-03-09T10:00"),
            "--down d1: lies outside the network's days, 2026-03-02 to 2026-03-03; write times",
        ),
        (
            ("--closed", "hall", "2026-03-01T09:00", "2026-03-02T00:00"),
            "--closed hall: lies outside the network's days",
        ),
        ((), "replan: nothing happened; name at least one of --down"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(
    desk: Desk, words: tuple[str, ...], said: str
) -> None:
    """Run in this process: Django's own call of a command, as each start takes its time."""
    heard = io.StringIO()
    files = (desk.network, desk.plan, "--out", desk.out, "--network-out", desk.network_out)
    with pytest.raises(SystemExit) as ended:
        call_command("replan", *map(str, files), *words, stderr=heard)
    assert ended.value.code == 2
    assert said in heard.getvalue()
    assert desk.nothing_written()


def test_an_event_without_its_times_is_a_usage_error(desk: Desk) -> None:
    ended = desk.replan("--down", "d1")
    assert ended.returncode == 2
    assert "expected 3 arguments" in ended.stderr


def test_an_added_request_with_a_fault_is_refused_with_its_place(desk: Desk) -> None:
    added = desk.folder / "new.json"
    added.write_text('[{"id": "new"}]')
    ended = desk.replan("--add", added)
    assert ended.returncode == 2
    assert f"{added}: [0]" in ended.stderr
    assert desk.nothing_written()


def test_every_fault_of_every_event_is_told_at_once(desk: Desk) -> None:
    added = desk.folder / "again.json"
    asked = {"id": "r1", "profile": "m20", "release": "2026-03-02", "due": "2026-03-04",
             "weight": 1, "sites": [{"site": "hall", "travel": 0}]}  # fmt: skip
    added.write_text(json.dumps([asked | {"id": "new"}, asked]))
    ended = desk.replan(
        "--down", "d9", *ALL_DAY, "--down", "d1", "soon", "later",
        "--absent", "anna", *ALL_DAY[::-1], "--add", added, "--cancel", "nobody",
    )  # fmt: skip
    assert ended.returncode == 2
    places = [line.split(": ")[0] for line in ended.stderr.splitlines()]
    assert places.count("--down d1") == 2
    assert {"--down d9", "--absent anna", "--cancel nobody", str(added)} <= {*places}
    assert f'{added}: [1].id: "r1" is a request of the network already' in ended.stderr
    assert desk.nothing_written()


def test_an_outage_over_midnight_takes_both_days_and_leaves_the_rest(desk: Desk) -> None:
    network = two_desks(3, days=2)
    plan = plan_by_hand(
        network, ("r1", "d1", "anna", at(11, 40)), ("r2", "d1", "anna", at(9, day=1)),
        ("r3", "d1", "anna", at(11, day=1)),
    )  # fmt: skip
    desk.network.write_bytes(encode_network(network))
    desk.plan.write_bytes(encode_plan(plan, network))
    ended = desk.replan("--down", "d1", "2026-03-02T11:50", "2026-03-03T09:10")
    assert ended.returncode == 0, ended.stderr
    now = {item.request: item for item in made(desk).bookings}
    assert "affected    2" in ended.stdout.splitlines()
    assert (now["r3"].station, now["r3"].start) == ("d1", at(11, day=1))
    low, high = at(11, 50), at(9, 10, day=1)
    on_it = [item for item in now.values() if item.station == "d1"]
    assert len(now) == 3
    assert not any(item.start < high and low < item.start + item.minutes for item in on_it)


def test_cancelling_who_waits_takes_them_off_the_network_and_says_so(desk: Desk) -> None:
    desk.write(two_desks(3, days=2))
    ended = desk.replan("--cancel", "r3", "--cancel", "r1")
    assert ended.returncode == 0, ended.stderr
    lines = ended.stdout.splitlines()
    assert "cancelled   2, of whom 1 had a booking" in lines
    assert "            without one: r3" in lines
    assert {item.id for item in read_network(desk.network_out).requests} == {"r2"}


def test_an_event_where_nobody_stands_changes_nothing_and_says_so(desk: Desk) -> None:
    ended = desk.replan("--down", "d1", "2026-03-03T09:00", "2026-03-03T10:00")
    assert ended.returncode == 0, ended.stderr
    assert "No booking had to change: nobody stands where something happened." in ended.stdout


def test_results_do_not_replace_what_is_read_or_each_other(desk: Desk) -> None:
    words = ("replan", desk.network, desk.plan, "--cancel", "r1")
    assert manage(*words, "--out", desk.plan, "--network-out", desk.network_out).returncode == 2
    assert manage(*words, "--out", desk.out, "--network-out", desk.network).returncode == 2
    assert manage(*words, "--out", desk.out, "--network-out", desk.out).returncode == 2
    assert desk.nothing_written()


def test_a_plan_of_another_network_is_refused(desk: Desk) -> None:
    network = two_desks(2, days=2)
    closed = replace(network, stations=network.stations[:1])
    desk.network.write_bytes(encode_network(closed))
    ended = desk.replan("--cancel", "r1")
    assert ended.returncode == 2
    assert ended.stderr.startswith("plan, rule ")
    assert desk.nothing_written()
