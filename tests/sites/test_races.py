"""Many at once, one killed half way, two in each other's way: nothing overlaps, nothing is half."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import close_old_connections, connection, connections

from sites.errors import RecordError
from sites.models import ACTIVE, Appointment, AppointmentEvent, Hold, Request, Site, Step
from sites.services.appointments import appointment_move, appointment_step
from sites.services.holds import requests_hold
from sites.services.write import written
from tests.sites.build import DAY, NOW, World, world

THREADS = 20
ROUNDS = 8
SLOTS = (600, 610, 620, 640)  # of 20 minutes each, so that some overlap
EXPECTED = {"slot_taken", "already_booked", "changed_meanwhile", "step_refused", "busy"}

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def here() -> World:
    """The small world, committed, so that other threads and processes see it."""
    return world()


def in_threads(work: Callable[[int], None], count: int) -> list[BaseException]:
    """Run the same work many times at once; return what went wrong besides RecordError."""
    barrier = threading.Barrier(count)

    def run(number: int) -> BaseException | None:
        close_old_connections()
        try:
            barrier.wait(timeout=60)
            work(number)
        except BaseException as error:
            return error
        finally:
            connections.close_all()
        return None

    with ThreadPoolExecutor(count) as pool:
        return [error for error in pool.map(run, range(count)) if error is not None]


def test_twenty_threads_on_the_same_few_slots(here: World) -> None:
    requests = [here.request(f"r-{n}") for n in range(6)]
    answers: Counter[str] = Counter()

    def work(number: int) -> None:
        rng = random.Random(number)
        for _ in range(ROUNDS):
            try:
                answers[one_thing(here, requests, rng)] += 1
            except RecordError as error:
                answers[error.code if error.remedy else "no remedy"] += 1

    assert in_threads(work, THREADS) == []
    assert sum(answers.values()) == THREADS * ROUNDS
    assert answers["book"] > 0
    assert answers["slot_taken"] + answers["already_booked"] > 0
    assert set(answers) <= EXPECTED | {"book", "move", "cancel"}
    assert_whole()
    done = Counter(AppointmentEvent.objects.values_list("what", flat=True))
    assert done == Counter({name: answers[name] for name in ("book", "move", "cancel")}) + Counter()


def test_a_request_is_held_or_booked_never_both(here: World) -> None:
    requests = [here.request(f"r-{n}") for n in range(6)]
    answers: Counter[str] = Counter()

    def work(number: int) -> None:
        for n, request in enumerate(requests):
            try:
                if number % 2:
                    outcome = requests_hold(requests=[request], why="away", by=here.desk, at=NOW)
                    answers["held"] += len(outcome.done)
                else:
                    here.book(request, 480 + 30 * n)
                    answers["booked"] += 1
            except RecordError as error:
                answers[error.code] += 1

    assert in_threads(work, 4) == []
    assert answers["held"] + answers["booked"] == len(requests)
    assert set(answers) <= {"held", "booked", *EXPECTED, "does_not_fit"}
    held = set(Hold.objects.filter(released_at=None).values_list("request", flat=True))
    booked = set(Appointment.objects.values_list("request", flat=True))
    assert held & booked == set()
    assert len(held) + len(booked) == len(requests)


def one_thing(here: World, requests: list[Request], rng: random.Random) -> str:
    """Book, move or cancel something at random; say what was done."""
    request = rng.choice(requests)
    minute = rng.choice(SLOTS)
    found = Appointment.objects.filter(request=request, step__in=ACTIVE).first()
    if found is None or rng.random() < 0.2:
        here.book(request, minute, technician=rng.choice(here.technicians))
        return "book"
    if rng.random() < 0.5:
        appointment_move(
            appointment=found,
            station=rng.choice(here.stations),
            technician=rng.choice(here.technicians),
            day=DAY,
            minute=minute,
            minutes=20,
            why="asked for",
            by=here.desk,
        )
        return "move"
    appointment_step(appointment=found, action="cancel", by=here.desk)
    return "cancel"


def assert_whole() -> None:
    """No two bookings overlap (compared pair by pair), and ``check_record`` finds nothing."""
    rows = list(Appointment.objects.filter(step__in=ACTIVE))
    for one in rows:
        for other in rows:
            if one.pk < other.pk and (
                one.station_id == other.station_id
                or one.technician_id == other.technician_id
                or one.subject_id == other.subject_id
            ):
                assert one.ends_at <= other.starts_at or other.ends_at <= one.starts_at
    call_command("check_record")


KILLED = """
import os, sys, time, django
django.setup()
from django.db import connection, transaction
from sites.models import Appointment, AppointmentEvent
with transaction.atomic():
    row = Appointment.objects.get(code="a-first")
    AppointmentEvent.objects.create(
        appointment=row, what="cancel", step="cancelled", at=row.starts_at)
    Appointment.objects.filter(pk=row.pk).update(step="cancelled")
    row.pk, row.code, row.step, row.version = None, "a-half", "booked", 1
    row.save()
    print("half way", flush=True)
    time.sleep(600)
"""


def test_a_process_killed_half_way_leaves_nothing(here: World) -> None:
    here.book(here.request("r-1"), code="a-first")
    child = subprocess.Popen(
        [sys.executable, "-c", KILLED],
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
        env=os.environ | {"DATABASE_URL": url(), "DJANGO_SETTINGS_MODULE": "tests.settings"},
    )
    try:
        assert child.stdout is not None
        assert child.stdout.readline() == "half way\n"
    finally:
        child.send_signal(signal.SIGKILL)
        child.wait(timeout=60)
    assert list(Appointment.objects.values_list("code", "step")) == [("a-first", Step.BOOKED)]
    assert list(AppointmentEvent.objects.values_list("what", flat=True)) == ["book"]
    here.book(here.request("r-2"), 640)
    assert_whole()


def url() -> str:
    """The address of the database that this test runs on, for another process."""
    set_ = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite:///{set_['NAME']}"
    secret = f":{set_['PASSWORD']}" if set_["PASSWORD"] else ""
    return f"postgres://{set_['USER']}{secret}@{set_['HOST']}:{set_['PORT']}/{set_['NAME']}"


def test_two_writes_in_each_others_way_are_both_done(here: World) -> None:
    """Two rows, locked in opposite order: PostgreSQL breaks one off, and it is tried again."""
    names = ["one", "two"]
    sites = [Site.objects.create(code=name, name="", timezone="UTC") for name in names]
    meet = threading.Barrier(2)
    tries: list[int] = []

    @written
    def write(number: int) -> None:
        tries.append(number)
        order = sites if number else sites[::-1]
        add(order[0], number)
        if len(tries) <= 2:
            # On SQLite the second writer cannot come here until the first is done.
            with suppress(threading.BrokenBarrierError):
                meet.wait(timeout=3)
        add(order[1], number)

    assert in_threads(write, 2) == []
    for site in Site.objects.filter(code__in=names):
        assert sorted(site.name) == ["0", "1"]
    if connection.vendor == "postgresql":
        assert len(tries) > 2


def add(site: Site, number: int) -> None:
    """Write a sign behind a site's name, read from the database."""
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE record_site SET name = name || %s WHERE id = %s", [str(number), site.pk]
        )
