"""A plan lands once: whole or in part, in a race, and not at all where it was decided on."""

from __future__ import annotations

import pytest

from planner.engine.errors import FileRefused
from planner.gateway.runs import ask, execute, land, result
from sites.access import NotHere
from sites.errors import NotReady, RecordError, StepRefused
from sites.models import Appointment, AppointmentEvent, Notice, PlanRun, Role, RunState
from sites.services.runs import run_put_aside
from tests.sites.build import DAY, World
from tests.sites.test_races import assert_whole, in_threads

THREADS = 8


@pytest.fixture
def run(here: World) -> int:
    """A run with a plan for six requests."""
    for number in range(6):
        here.request(f"r-{number}")
    found = ask(first_day=DAY, days=1, effort=1).pk
    execute(found)
    return found


def test_a_plan_lands_whole_and_says_so(here: World, run: int) -> None:
    plan = result(run).plan
    row = land(run, by=here.desk)
    assert (row.state, row.kept_by) == (RunState.KEPT, here.desk)
    assert row.outcome is not None
    assert (row.outcome["booked"], row.outcome["changed"]) == (6, [])
    placed = Appointment.objects.filter(plan_run=run).values_list(
        "request__reference", "station__code", "technician__code", "minute", "minutes"
    )
    assert sorted(placed) == sorted(
        (each.request, each.station, each.technician, each.start, each.minutes)
        for each in plan.bookings
    )
    assert PlanRun.objects.count() == 1


def test_landing_again_changes_nothing(here: World, run: int) -> None:
    first = land(run, by=here.desk)
    rows = list(Appointment.objects.order_by("pk").values())
    again = land(run)
    assert (again.kept_at, again.kept_by, again.outcome) == (
        first.kept_at,
        here.desk,
        first.outcome,
    )
    assert list(Appointment.objects.order_by("pk").values()) == rows
    assert AppointmentEvent.objects.count() == Notice.objects.count() == 6


def test_only_what_was_accepted_lands(here: World, run: int) -> None:
    row = land(run, items={"r-1", "r-4"}, by=here.desk)
    assert row.outcome is not None
    assert row.outcome["booked"] == 2
    booked = Appointment.objects.values_list("request__reference", flat=True)
    assert set(booked) == {"r-1", "r-4"}


def test_an_item_of_another_run_is_refused_and_nothing_lands(here: World, run: int) -> None:
    with pytest.raises(FileRefused, match="request r-9: is not in this run"):
        land(run, items=["r-1", "r-9"], by=here.desk)
    assert not Appointment.objects.exists()
    assert PlanRun.objects.get().state == RunState.READY


def test_who_may_not_book_lands_nothing(here: World, run: int) -> None:
    with pytest.raises(StepRefused):
        land(run, by=here.users[Role.MANAGER])
    with pytest.raises(NotHere):  # a technician sees no run
        land(run, by=here.users[Role.TECHNICIAN])
    assert not Appointment.objects.exists()
    row = PlanRun.objects.get()
    assert (row.state, row.kept_at, row.outcome) == (RunState.READY, None, None)
    assert land(run, by=here.desk).state == RunState.KEPT


def test_what_was_put_aside_does_not_land(here: World, run: int) -> None:
    run_put_aside(run=run)
    with pytest.raises(NotReady, match="put aside"):
        land(run, by=here.desk)
    assert not Appointment.objects.exists()


def test_many_who_accept_at_once_write_it_once(here: World, run: int) -> None:
    kept: list[PlanRun] = []
    refused: list[str] = []

    def work(_: int) -> None:
        try:
            kept.append(land(run, by=here.desk))
        except RecordError as error:
            refused.append(error.code)

    assert in_threads(work, THREADS) == []
    assert len(kept) + len(refused) == THREADS
    assert set(refused) <= {"busy"}
    assert kept
    assert {row.outcome["booked"] for row in kept if row.outcome} == {6}
    assert Appointment.objects.count() == AppointmentEvent.objects.count() == 6
    assert Notice.objects.count() == 6
    assert_whole()


def test_accepting_and_putting_aside_at_once_does_one_of_them(here: World, run: int) -> None:
    done: list[str] = []
    refused: set[str] = set()

    def work(number: int) -> None:
        try:
            if number % 2:
                done.append(land(run, by=here.desk).state)
            else:
                done.append(run_put_aside(run=run).state)
        except RecordError as error:
            refused.add(error.code)

    assert in_threads(work, THREADS) == []
    assert refused <= {"not_ready", "busy"}
    final = PlanRun.objects.get().state
    assert final in {RunState.KEPT, RunState.PUT_ASIDE}
    assert set(done) == {final}
    assert Appointment.objects.count() == (6 if final == RunState.KEPT else 0)
