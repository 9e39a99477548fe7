"""Whatever is killed, frozen or restarted in mid-run: it ends once, and its plan lands once."""

from __future__ import annotations

import os
import signal
import time
from typing import Any

import pytest

from tests.hostile.house import LEASE, House, children, end, worker_of

pytestmark = pytest.mark.hostile
OVER = {"ready", "stopped", "failed", "kept"}


def in_the_middle(row: dict[str, Any]) -> bool:
    """There is a plan already, and the search goes on."""
    return row["state"] == "planning" and row["objective"] is not None


def over(row: dict[str, Any]) -> bool:
    return row["state"] in OVER


def assert_ended_once(house: House, run: int) -> dict[str, Any]:
    """It is ready and stays as it is, nothing is booked yet, and its plan lands once."""
    row = house.until(run, over)
    assert (row["state"], row["error"]) == ("ready", ""), house.log.read_text()[-4000:]
    time.sleep(2 * LEASE)
    assert house.row(run) == row
    assert house.results(run) == [{"attempt": row["attempt"]}]
    landed = house.land(run)
    assert landed["broken"] == []
    assert landed["before"] == 0
    assert landed["wanted"] > 0
    assert landed["outcome"]["changed"] == []
    assert landed["outcome"] == landed["again"]
    counts = {name: landed["outcome"][name] for name in ("booked", "moved", "stood")}
    assert sum(counts.values()) == landed["wanted"]
    assert landed["placed"] == landed["active"] == landed["wanted"]
    assert house.manage("check_record").splitlines()[-1] == "the record is whole"
    return row


def test_a_worker_that_is_killed_loses_an_attempt_and_not_the_run(house: House) -> None:
    house.begin("work")
    run = house.ask()
    row = house.until(run, in_the_middle)
    end(worker_of(row))
    row = assert_ended_once(house, run)
    assert (row["attempt"], row["lost"]) == (2, 1)


def test_a_worker_that_was_frozen_comes_back_to_a_run_that_is_not_its_own(house: House) -> None:
    house.begin("work", "--workers", "2")
    run = house.ask()
    row = house.until(run, in_the_middle)
    frozen = worker_of(row)
    os.kill(frozen, signal.SIGSTOP)
    row = house.until(run, lambda row: row["attempt"] == 2 and row["state"] == "planning")
    assert worker_of(row) != frozen
    os.kill(frozen, signal.SIGCONT)
    house.until_said(f"run {run}: attempt 1 was given up")
    row = assert_ended_once(house, run)
    assert (row["attempt"], row["lost"]) == (2, 1)


def test_frozen_until_the_run_is_over_it_changes_nothing_after(house: House) -> None:
    house.begin("work", "--workers", "2")
    run = house.ask()
    frozen = worker_of(house.until(run, in_the_middle))
    os.kill(frozen, signal.SIGSTOP)
    before = house.until(run, over)
    os.kill(frozen, signal.SIGCONT)
    house.until_said(f"run {run}: attempt 1 was given up")
    assert house.row(run) == before
    assert_ended_once(house, run)


def test_a_web_server_that_is_killed_takes_no_run_with_it(house: House) -> None:
    server = house.serve()
    if house.rabbit:
        house.begin("work")
    run = house.ask()
    house.until(run, in_the_middle)
    end(server.pid)
    server.wait(timeout=60)
    house.serve()
    row = assert_ended_once(house, run)
    assert row["attempt"] == (1 if house.rabbit else 2)
    assert row["lost"] == 0


def test_everything_killed_at_once_goes_on_after_a_new_start(house: House) -> None:
    server = house.serve("--no-work")
    runs = [house.ask(), house.ask()]
    work = house.begin("work")
    house.until(runs[0], in_the_middle)
    for pid in (*children(work.pid), work.pid, server.pid):
        end(pid)
    house.begin("work")
    for run in runs:
        row = house.until(run, over)
        assert (row["state"], row["error"]) == ("ready", "")
    assert [house.row(run)["attempt"] for run in runs] == [2, 1]
    assert_ended_once(house, runs[0])


def test_a_database_that_restarts_in_mid_run_loses_nothing(served: House) -> None:
    assert served.postgres is not None
    run, next_run = served.ask(), served.ask()
    served.begin("work")
    served.until(run, in_the_middle)
    served.postgres.stop()
    time.sleep(2 * LEASE)
    served.postgres.start()
    assert served.until(next_run, over)["state"] == "ready"
    row = assert_ended_once(served, run)
    assert row["lost"] == 0


def test_a_broker_that_restarts_in_mid_run_loses_nothing(brokered: House) -> None:
    assert brokered.rabbit is not None
    run, queued = brokered.ask(), brokered.ask()
    brokered.begin("work")
    brokered.until(run, in_the_middle)
    brokered.rabbit.stop()
    unsent = brokered.ask()
    assert brokered.row(unsent)["sent_at"] is None
    brokered.rabbit.start()
    for each in (queued, unsent):
        assert brokered.until(each, over)["state"] == "ready"
    row = assert_ended_once(brokered, run)
    assert (row["attempt"], row["lost"]) == (1, 0)


@pytest.mark.parametrize("wait", [0.0, 3.0])
def test_cancelled_at_any_moment_the_best_plan_so_far_is_kept(house: House, wait: float) -> None:
    house.begin("work")
    run = house.ask(seconds=600)
    house.until(run, in_the_middle)
    time.sleep(wait)
    house.cancel(run)
    row = assert_ended_once(house, run)
    assert row["cancel_asked_at"] is not None
    assert row["attempt"] == 1
