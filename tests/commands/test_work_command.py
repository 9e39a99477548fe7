"""``manage.py work``: plans what is asked for, alone or beside a server, and ends when told to."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.commands.test_serve_command import environment, manage
from tests.hostile.house import House, children


@pytest.fixture(scope="module")
def house(tmp_path_factory: pytest.TempPathFactory) -> Iterator[House]:
    """A record of some days in SQLite, with nobody at work yet."""
    found = House(tmp_path_factory.mktemp("house"))
    try:
        found.build(postgres=False, rabbit=False)
        yield found
    finally:
        found.close()


def gone(pid: int) -> bool:
    """Whether a process has ended."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


def test_without_keys_it_refuses_and_says_how_to_make_them(tmp_path: Path) -> None:
    done = manage("work", env=environment(tmp_path))
    assert done.returncode == 2
    assert "PLATEN_SECRET_KEY is not set" in done.stderr


def test_it_plans_what_was_asked_for_and_ends_when_told_to(house: House) -> None:
    run = house.ask(seconds=1)
    work = house.begin("work")
    row = house.until(run, lambda row: row["ended_at"] is not None)
    assert (row["state"], row["attempt"], row["error"]) == ("ready", 1, "")
    assert row["booked"] > 0
    workers = children(work.pid)
    assert workers
    work.send_signal(signal.SIGTERM)
    assert work.wait(timeout=60) == 0
    assert all(gone(pid) for pid in workers)


def test_told_to_end_in_mid_run_it_gives_the_run_back(house: House) -> None:
    run = house.ask(seconds=600)
    work = house.begin("work")
    house.until(run, lambda row: row["objective"] is not None)
    work.send_signal(signal.SIGTERM)
    assert work.wait(timeout=60) == 0
    row = house.row(run)
    assert (row["state"], row["attempt"], row["lost"]) == ("waiting", 1, 0)
    assert house.results(run) == [{"attempt": 1}]
    assert house.cancel(run) == "ready"


def test_a_server_has_a_worker_beside_it_which_goes_with_it(house: House) -> None:
    server = house.serve()
    run = house.ask(seconds=1)
    row = house.until(run, lambda row: row["ended_at"] is not None)
    assert row["state"] == "ready"
    workers = children(server.pid)
    assert workers
    server.send_signal(signal.SIGINT)
    assert server.wait(timeout=60) == 0
    assert all(gone(pid) for pid in workers)
