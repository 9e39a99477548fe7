"""Whether this process lives, whether the record is ready, and figures for whoever watches over it.

None of the three needs a login: balancers and monitors have none. They say nothing of the record
but counts, and the figures are for this machine or for who has the token.
"""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterator
from hmac import compare_digest

from django.conf import settings
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe
from prometheus_client import CONTENT_TYPE_LATEST, REGISTRY, CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from planner.web.access import public
from sites.audit import keep as audit
from sites.occupancy import keep as occupancy
from sites.selectors.queue import queue

MANY = "PROMETHEUS_MULTIPROC_DIR"
"""Names a folder where several processes of one machine put their figures together."""


@public("a supervisor asks, and has no login; it says nothing of the record")
@never_cache
@require_safe
def alive(request: HttpRequest) -> HttpResponse:
    """Whether this process answers. The database is not asked: a restart would not heal it."""
    return HttpResponse("alive\n", content_type="text/plain")


@public("a balancer asks, and has no login; it says nothing of the record")
@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Whether pages can be served: 200, or 503 and what is off, a line each.

    503: the record cannot be reached, migrations are not applied, or triggers are not there. Runs
    that wait without a worker are said under 200: pages are served without one, and a balancer that
    took this server out would only add to the harm. ``platen_runs_stuck`` is for an alarm.
    """
    try:
        off = [*faults()]
        stuck = not off and queue().stuck
    except DatabaseError:
        off, stuck = ["record: cannot be reached"], False
    words = off or ["record: ok"]
    if stuck:
        words.append("runs: none is worked on and some wait; is a worker running?")
    text = "\n".join(words) + "\n"
    return HttpResponse(text, status=503 if off else 200, content_type="text/plain")


def faults() -> Iterator[str]:
    """What keeps the record from being used. Raises DatabaseError where it cannot be reached."""
    connection.ensure_connection()
    executor = MigrationExecutor(connection)
    waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if waiting:
        yield f"record: {len(waiting)} migrations are not applied"
        return
    gone = [*occupancy.triggers_missing(connection), *audit.triggers_missing(connection)]
    if gone:
        yield f"record: {len(gone)} triggers are not there; run manage.py migrate"


class Runs(Collector):
    """Figures of the background runs, read from the record when they are asked for."""

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """One family a figure."""
        found = queue()
        states = GaugeMetricFamily("platen_runs", "Planning runs by state", labels=["state"])
        for state, count in found.by_state.items():
            states.add_metric([state], count)
        yield states
        for name, words, value in (
            ("platen_queue_length", "Runs that wait for a worker", found.by_state["waiting"]),
            ("platen_queue_oldest_seconds", "Age of the run that waits longest", found.waiting),
            (
                "platen_lease_oldest_seconds",
                "Since the worker of a run was heard from, the longest",
                found.silent,
            ),
            ("platen_workers_heard", "Workers that have a run and were heard from", found.workers),
            (
                "platen_runs_stuck",
                "1 while runs wait for minutes and no worker is heard from",
                int(found.stuck),
            ),
            ("platen_runs_lost", "Most workers that an open run has lost", found.lost),
        ):
            yield GaugeMetricFamily(name, words, value=value)


@public("a monitor asks, and has no login; from elsewhere it needs the token")
@never_cache
@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """Figures in Prometheus' text format: page times and errors of processes, and the runs."""
    if not allowed(request):
        words = "for this machine alone, or with the token of PLATEN_METRICS_TOKEN\n"
        return HttpResponse(words, status=403, content_type="text/plain")
    pages, runs = REGISTRY, CollectorRegistry()
    if MANY in os.environ:
        pages = CollectorRegistry()
        MultiProcessCollector(pages)  # type: ignore[no-untyped-call]
    text = generate_latest(pages)
    try:
        runs.register(Runs())
        text += generate_latest(runs)
        up = 1
    except DatabaseError:
        up = 0
    text += f"# TYPE platen_record_up gauge\nplaten_record_up {up}.0\n".encode()
    return HttpResponse(text, content_type=CONTENT_TYPE_LATEST)


def allowed(request: HttpRequest) -> bool:
    """Whether a monitor may ask: by token where one is set, else from this machine directly.

    Behind a proxy everybody comes from the proxy's machine, so there the token is needed.
    """
    token = settings.METRICS_TOKEN
    if token:
        given = request.headers.get("Authorization", "")
        return compare_digest(given.encode(), f"Bearer {token}".encode())
    if settings.HTTPS or "X-Forwarded-For" in request.headers or "Forwarded" in request.headers:
        return False
    try:
        return ipaddress.ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False
