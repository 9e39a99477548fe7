"""``manage.py demo``: one line from nothing to a plan that can be read."""

from __future__ import annotations

import csv
import os
import sqlite3
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.units import DAY
from planner.engine.verify import verify
from planner.gateway.files import read_network, read_plan
from tests.gateway.reader import read_page

SETTINGS = "planner.settings"
ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "fixtures" / "demo-network.json"


@dataclass(frozen=True)
class Demo:
    """What one run left behind."""

    folder: Path
    said: str
    network: Network
    plan: Plan


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    folder = tmp_path_factory.mktemp("demo")
    words = ["demo", "--no-serve", "--out", str(folder), "--seconds", "5", "--workers", "1"]
    line = [sys.executable, "manage.py", *words]
    (folder / "var").mkdir()
    plain = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
    here = {**plain, "PLATEN_VAR": str(folder / "var"), "DJANGO_SETTINGS_MODULE": SETTINGS}
    ended = subprocess.run(line, cwd=ROOT, capture_output=True, text=True, check=False, env=here)
    assert ended.returncode == 0, ended.stderr
    network = read_network(DEMO)
    return Demo(folder, ended.stdout, network, read_plan(folder / "plan.json", network))


def test_the_plan_breaks_no_rule(demo: Demo) -> None:
    assert not verify(demo.network, demo.plan, draws=4000, seed=3, care_may_be_unplaced=False)
    assert "checked     no rule broken" in demo.said


def test_it_says_what_it_did_and_where_it_is(demo: Demo) -> None:
    plan = demo.plan
    for words in (
        f"booked      {len(plan.bookings):,} of {len(demo.network.requests):,} requests",
        f"not booked  {len(plan.unbooked):,}",
        f"cost        {plan.objective:,.2f}, bound {plan.bound:,.2f}, gap ",
        "promises    wait over",
        "seconds     ",
        str(demo.folder / "plan.json"),
        str(demo.folder / "appointments.csv"),
        str(demo.folder / "index.html"),
    ):
        assert words in demo.said


def test_most_people_are_booked(demo: Demo) -> None:
    """The demo asks for about 0.95 of the capacity: four in five is what any sane plan books."""
    assert len(demo.plan.bookings) > 0.8 * len(demo.network.requests)


def test_the_table_has_a_row_per_booking(demo: Demo) -> None:
    with (demo.folder / "appointments.csv").open(encoding="utf-8", newline="") as table:
        requests = [row["request"] for row in csv.DictReader(table)]
    assert sorted(requests) == sorted(item.request for item in demo.plan.bookings)


def test_the_pages_hold_every_booking_once(demo: Demo) -> None:
    lines = 0
    for path in (demo.folder / "days").glob("*.html"):
        root, faults = read_page(path)
        assert faults == []
        lines += len([row for row in root.find("tr") if row.attributes.get("id")])
    assert lines == len(demo.plan.bookings)


def test_every_site_has_a_page_for_each_day_on_which_it_is_open(demo: Demo) -> None:
    days = {(site.id, window.start // DAY) for site in demo.network.sites for window in site.open}
    assert len(list((demo.folder / "days").glob("*.html"))) >= len(days) > 0


def test_those_left_out_stand_on_their_page_with_a_remedy(demo: Demo) -> None:
    root, _ = read_page(demo.folder / "not-booked.html")
    listed = {row.find("th")[0].text for row in root.find("tr")[1:]}
    assert listed == {item.request for item in demo.plan.unbooked}
    assert all(tag.text for tag in root.find("td", **{"data-label": "remedy"}))


def test_the_record_is_made_and_a_login_of_each_role_is_told(demo: Demo) -> None:
    assert "The demo record, all invented" in demo.said
    with sqlite3.connect(demo.folder / "var" / "demo.sqlite3") as record:
        names = {name for (name,) in record.execute("SELECT username FROM record_user")}
        (sessions,) = record.execute("SELECT count(*) FROM record_session").fetchone()
    assert f"{sessions:,} sessions" in demo.said
    told = {line.split()[-2] for line in demo.said.split("Sign in")[1].splitlines()[1:]}
    assert {"coordinator", "site_lead", "manager", "technician", "administrator"} <= told <= names
