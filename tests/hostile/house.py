"""A whole installation in a folder: a record, a queue, workers and a web server as processes."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg
from psycopg.rows import dict_row

from tests.hostile.servers import PATIENCE, Postgres, Rabbit, free_port, until_it_listens

ROOT = Path(__file__).resolve().parents[2]
LEASE = 4
"""Seconds after which a silent worker is given up in these tests."""
SECONDS = 15
"""Seconds that a run may plan: long enough to be met in the middle."""

FILL = """
from datetime import timedelta
from planner.engine.scenario.generate import generate
from planner.gateway.ready import CROWDED, make_ready
from planner.gateway.record import store
from planner.engine.booking import Quiet
network = generate(CROWDED, seed=1)
store(network)
make_ready(Quiet(), print)
answer = network.first_day.isoformat(), network.days
"""
ASK = """
from planner.gateway.runs import ask
first_day, days = {horizon!r}
answer = ask(first_day=date.fromisoformat(first_day), days=days, seconds={seconds}).pk
"""
CANCEL = """
from sites.services.runs import run_cancel
answer = run_cancel(run={run}).state
"""
LAND = """
from planner.gateway.runs import land, result
from planner.engine.verify import verify
from datetime import timedelta
from sites.models import ACTIVE, Appointment
made = result({run})
broken = verify(made.network, made.plan, draws=500, seed=5, care_may_be_unplaced=False)
before = Appointment.objects.filter(plan_run={run}).count()
first = land({run})
again = land({run})
placed = 0
for each in made.plan.bookings:
    day, minute = divmod(each.start, 24 * 60)
    placed += Appointment.objects.filter(
        request__reference=each.request,
        step="booked",
        station__code=each.station,
        technician__code=each.technician,
        day=made.network.first_day + timedelta(days=day),
        minute=minute,
        minutes=each.minutes,
    ).count()
answer = {{
    "broken": [str(each) for each in broken],
    "before": before,
    "wanted": len(made.plan.bookings),
    "outcome": first.outcome,
    "again": again.outcome,
    "placed": placed,
    "active": Appointment.objects.filter(step__in=ACTIVE).count(),
}}
"""

TIDY = """
from django_tasks_db.models import DBTaskResult
from planner.gateway.broker import app
from sites.models import Appointment, AppointmentEvent, Break, CareWindow, Notice, PlanRun
CareWindow.objects.update(day=None, minute=None, starts_at=None, ends_at=None, technician=None)
for model in (Notice, AppointmentEvent, Appointment, Break, PlanRun, DBTaskResult):
    model.objects.all().delete()
if app.conf.broker_url:
    app.control.purge()
answer = True
"""


class House:
    """Start and stop its processes, ask for runs, and look at their rows past all our code."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.log = folder, folder / "log"
        self.postgres: Postgres | None = None
        self.rabbit: Rabbit | None = None
        self.processes: list[subprocess.Popen[bytes]] = []
        self.horizon: list[Any] = []
        names = ("PLATEN_", "DATABASE_URL")
        self.env = {
            **{name: value for name, value in os.environ.items() if not name.startswith(names)},
            "DJANGO_SETTINGS_MODULE": "planner.settings",
            "PLATEN_VAR": str(folder),
            "PLATEN_SECRET_KEY": "of-no-value-of-no-value",
            "PLATEN_CONTACT_KEYS": "of-no-value",
            "PLATEN_LOOKUP_KEY": "of-no-value",
            "PLATEN_HTTPS": "0",
            "PLATEN_RUN_LEASE": str(LEASE),
            "PLATEN_RUN_RESEND": str(LEASE),
            "PLATEN_RUN_PROCESSES": "1",
            "PYTHONUNBUFFERED": "1",
        }

    def build(self, *, postgres: bool, rabbit: bool) -> None:
        """Start its servers, make its record, and compile what planning needs."""
        self.folder.mkdir(exist_ok=True)
        self.log.touch()
        if postgres:
            self.postgres = Postgres(self.folder / "postgres")
            self.env["DATABASE_URL"] = self.postgres.url
        if rabbit:
            self.rabbit = Rabbit(self.folder / "rabbit")
            self.env["PLATEN_BROKER"] = self.rabbit.url
        self.manage("migrate", "--verbosity", "0")
        self.horizon = self.script(FILL)

    def manage(self, *words: str) -> str:
        """Run a command to its end; what it printed. AssertionError where it failed."""
        done = subprocess.run(
            [sys.executable, "manage.py", *words],
            cwd=ROOT,
            env=self.env,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def script(self, code: str) -> Any:
        """Run lines in a process of their own; the value of ``answer``."""
        lines = f"import json\nfrom datetime import date\n{code}\nprint('=' + json.dumps(answer))"
        said = self.manage("shell", "--no-imports", "-c", lines)
        return json.loads(next(line[1:] for line in said.splitlines() if line.startswith("=")))

    def begin(self, *words: str) -> subprocess.Popen[bytes]:
        """Start a command that goes on; what it says goes into one log."""
        with self.log.open("ab") as log:
            found = subprocess.Popen(
                [sys.executable, "manage.py", *words],
                cwd=ROOT,
                env=self.env,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.processes.append(found)
        return found

    def serve(self, *words: str) -> subprocess.Popen[bytes]:
        """Start the web server, and wait until it listens."""
        port = free_port()
        server = self.begin("serve", "--port", str(port), *words)
        until_it_listens(port)
        return server

    def ask(self, seconds: float = SECONDS) -> int:
        """Ask for a run over all days."""
        return int(self.script(ASK.format(horizon=tuple(self.horizon), seconds=seconds)))

    def cancel(self, run: int) -> str:
        """Cancel a run; its state."""
        return str(self.script(CANCEL.format(run=run)))

    def land(self, run: int) -> dict[str, Any]:
        """Judge a run's plan, write it twice, and count."""
        return dict(self.script(LAND.format(run=run)))

    def row(self, run: int) -> dict[str, Any]:
        """The row of a run, read by SQL."""
        rows = self.sql(f"SELECT * FROM record_planrun WHERE id = {int(run)}")  # noqa: S608
        return rows[0]

    def results(self, run: int) -> list[dict[str, Any]]:
        """The plans that are kept of a run."""
        where = f"WHERE run_id = {int(run)}"
        return self.sql(f"SELECT attempt FROM record_planresult {where}")  # noqa: S608

    def sql(self, query: str) -> list[dict[str, Any]]:
        """Read past all our code."""
        if self.postgres:
            with psycopg.connect(self.postgres.url, row_factory=dict_row) as there:
                return there.execute(query).fetchall()
        with closing(sqlite3.connect(self.folder / "record.sqlite3", timeout=30)) as here:
            here.row_factory = sqlite3.Row
            return [dict(row) for row in here.execute(query)]

    def until(self, run: int, so: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
        """Wait until a run's row is so. AssertionError, with the log, where it does not come."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            row = self.row(run)
            if so(row):
                return row
            time.sleep(0.1)
        raise AssertionError(f"{self.row(run)}\n{self.log.read_text()[-4000:]}")

    def until_said(self, words: str) -> None:
        """Wait until a process has said something."""
        end = time.monotonic() + PATIENCE
        while words not in self.log.read_text():
            assert time.monotonic() < end, self.log.read_text()[-4000:]
            time.sleep(0.1)

    def tidy(self) -> None:
        """End what was started, and take away what came of it; what can be booked stays."""
        self.end_processes()
        for server in (self.postgres, self.rabbit):
            if server and not server.running():
                server.start()
        self.script(TIDY)
        self.log.write_text("")

    def end_processes(self) -> None:
        """Kill every process of ours, whatever state it is in."""
        for process in self.processes:
            for pid in (*children(process.pid), process.pid):
                end(pid)
            process.wait(timeout=PATIENCE)
        self.processes.clear()

    def close(self) -> None:
        """End everything."""
        self.end_processes()
        for server in (self.rabbit, self.postgres):
            if server and server.running():
                server.stop()


def children(pid: int) -> list[int]:
    """The processes that a process started and that are still there, theirs included."""
    try:
        found = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [each for child in map(int, found) for each in (*children(child), child)]


def end(pid: int) -> None:
    """Kill a process that may be gone."""
    try:
        os.kill(pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def worker_of(row: dict[str, Any]) -> int:
    """The process that works on a run."""
    return int(str(row["worker"]).rsplit(":", 1)[1])
