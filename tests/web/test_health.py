"""For balancers, supervisors and monitors: who may ask, and what is said when something is off."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from sites.models import PlanRun, RunState
from sites.occupancy.keep import run
from tests.sites.build import DAY, World


def figures(client: Client, **headers: str) -> dict[str, float]:
    """Figures by name, with a state where there is one (read by the library's own parser)."""
    text = client.get("/metrics/", headers=headers).content.decode()
    return {
        f"{sample.name}{'.' + sample.labels['state'] if 'state' in sample.labels else ''}": float(
            sample.value
        )
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if sample.name.startswith("platen_")
    }


def drop(table: str, sqlite: str, postgres: str) -> None:
    """Take a trigger away."""
    if connection.vendor == "postgresql":
        run(connection, [f"DROP TRIGGER {postgres} ON {table}"])
    else:
        run(connection, [f"DROP TRIGGER {sqlite}"])


def test_a_process_is_alive_without_a_database(client: Client) -> None:
    assert client.get("/alive/").content == b"alive\n"


def test_a_record_in_order_is_ready(db: None, client: Client) -> None:
    answer = client.get("/health/")
    assert (answer.status_code, answer.content) == (200, b"record: ok\n")


@pytest.mark.parametrize(
    "trigger",
    [
        ("record_auditentry", "record_auditentry_not_changed", "record_auditentry_kept"),
        ("record_appointment", "record_appointment_update", "record_appointment_occupies"),
    ],
    ids=["audit", "occupancy"],
)
def test_a_record_without_a_trigger_is_not_ready(
    db: None, client: Client, trigger: tuple[str, str, str]
) -> None:
    drop(*trigger)
    answer = client.get("/health/")
    assert answer.status_code == 503
    assert answer.content == b"record: 1 triggers are not there; run manage.py migrate\n"


def test_a_database_that_is_away_is_said_and_the_process_lives(db: None, client: Client) -> None:
    def gone(*_: Any) -> None:
        raise OperationalError("server closed the connection unexpectedly")

    with connection.execute_wrapper(gone):
        answer = client.get("/health/")
        assert (answer.status_code, answer.content) == (503, b"record: cannot be reached\n")
        assert figures(client) == {"platen_record_up": 0}
        assert client.get("/alive/").status_code == 200
    assert client.get("/health/").status_code == 200


def waiting(minutes: int) -> PlanRun:
    """A run that has waited so long."""
    made = PlanRun.objects.create(first_day=DAY, days=5)
    PlanRun.objects.filter(pk=made.pk).update(
        created_at=timezone.now() - timedelta(minutes=minutes)
    )
    return made


def planning(seconds: int) -> PlanRun:
    """A run whose worker was heard from so long ago."""
    now = timezone.now()
    return PlanRun.objects.create(
        first_day=DAY,
        days=5,
        state=RunState.PLANNING,
        attempt=1,
        started_at=now,
        lease_until=now + timedelta(minutes=1),
        heard_at=now - timedelta(seconds=seconds),
        lost=2,
    )


def test_runs_that_wait_without_a_worker_are_said_and_pages_are_served(
    db: None, client: Client
) -> None:
    waiting(10)
    answer = client.get("/health/")
    assert answer.status_code == 200
    assert "is a worker running?" in answer.content.decode()
    assert figures(client)["platen_runs_stuck"] == 1
    planning(400)  # a worker that has been silent for longer than anybody waits
    assert figures(client)["platen_runs_stuck"] == 1
    planning(20)
    assert client.get("/health/").content == b"record: ok\n"
    found = figures(client)
    assert (found["platen_runs_stuck"], found["platen_workers_heard"]) == (0, 1)


def test_a_run_that_waits_for_a_moment_is_no_alarm(db: None, client: Client) -> None:
    waiting(1)
    assert client.get("/health/").content == b"record: ok\n"


def test_figures_of_runs_and_their_ages(db: None, client: Client) -> None:
    empty = figures(client)
    assert empty["platen_record_up"] == 1
    assert empty["platen_queue_length"] == empty["platen_lease_oldest_seconds"] == 0
    waiting(10)
    waiting(2)
    planning(90)
    planning(5)
    found = figures(client)
    assert found["platen_queue_length"] == found["platen_runs.waiting"] == 2
    assert found["platen_runs.planning"] == 2
    assert found["platen_runs.failed"] == 0
    assert found["platen_runs_lost"] == 2
    assert 600 <= found["platen_queue_oldest_seconds"] < 900
    assert 90 <= found["platen_lease_oldest_seconds"] < 390


def test_page_times_and_answers_are_counted_by_view(here: World, client: Client) -> None:
    def count() -> float:
        text = client.get("/metrics/").content.decode()
        return sum(
            sample.value
            for family in text_string_to_metric_families(text)
            for sample in family.samples
            if sample.name == "django_http_requests_latency_seconds_by_view_method_count"
            and sample.labels["view"] == "requests"
        )

    before = count()
    client.force_login(here.desk)
    client.get("/requests/?q=Tavorenplanted")
    assert count() == before + 1
    assert "planted" not in client.get("/metrics/").content.decode()


def test_figures_are_for_this_machine_alone(db: None, client: Client) -> None:
    assert client.get("/metrics/").status_code == 200
    assert client.get("/metrics/", REMOTE_ADDR="192.0.2.7").status_code == 403
    assert client.get("/metrics/", REMOTE_ADDR="").status_code == 403
    forwarded = {"X-Forwarded-For": "192.0.2.7"}
    assert client.get("/metrics/", headers=forwarded).status_code == 403


def test_behind_a_proxy_the_token_is_needed(db: None, client: Client, settings: Any) -> None:
    settings.HTTPS = True
    assert client.get("/metrics/").status_code == 403
    settings.METRICS_TOKEN = "a-token-of-no-value"  # noqa: S105 - of no value
    for given, status in (
        ("Bearer a-token-of-no-value", 200),
        ("Bearer another", 403),
        ("a-token-of-no-value", 403),
        ("", 403),
    ):
        headers = {"Authorization": given}
        answer = client.get("/metrics/", REMOTE_ADDR="192.0.2.7", headers=headers)
        assert answer.status_code == status
