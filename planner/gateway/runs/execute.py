"""What a worker does with a run: claim, read, plan, keep; the run's row says how it went."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from typing import TypeVar

from django.conf import settings
from django.db import connection

from planner.engine.booking import Interrupted, Options
from planner.engine.booking.regions import plan_regions
from planner.engine.errors import PlatenError
from planner.engine.network import Network
from planner.gateway.ready import make_ready
from planner.gateway.record import read
from planner.gateway.runs.result import kept_of
from planner.gateway.runs.watch import AWAY, RunWatch
from sites.errors import ChangedMeanwhile, RecordError
from sites.models import PlanRun
from sites.services.runs import (
    run_claim,
    run_end_early,
    run_fail,
    run_finish,
    run_keep,
    run_release,
)

log = logging.getLogger(__name__)
R = TypeVar("R")

PATIENCE = 15 * 60.0
"""Seconds for which a worker tries to write what it has, while the record is away."""
PAUSE = 0.5
UNEXPECTED = "something went wrong that should not; the log of the workers tells more of run {run}"


def execute(run: int, *, worker: str = "", ending: Callable[[], bool] | None = None) -> None:
    """Work on a waiting run until it ends; see the package.

    ``ending`` says whether this process is to end: the run is then given back, with its best plan
    so far. Nothing is raised for what goes wrong with the run: its row says it.
    """
    lease = timedelta(seconds=settings.RUN_LEASE)
    attempt = patiently(lambda: run_claim(run=run, worker=worker, lease=lease))
    if attempt is None:
        log.info("run %s waits no more", run)
        return
    log.info("run %s: attempt %s begins", run, attempt)
    with RunWatch(run, attempt, lease, ending or _never) as watch:
        try:
            _work(run, attempt, watch)
        except ChangedMeanwhile as error:
            log.warning("run %s: attempt %s was given up (%s)", run, attempt, error)
        except BaseException:
            # Told to end a second time: what is lost is this attempt, not the run.
            with suppress(ChangedMeanwhile, *AWAY):
                run_release(run=run, attempt=attempt)
            raise


def _work(run: int, attempt: int, watch: RunWatch) -> None:
    """Plan, and write how it ended. Raises ChangedMeanwhile where the run is somebody else's."""
    try:
        asked = patiently(lambda: PlanRun.objects.prefetch_related("sites").get(pk=run))
        make_ready(watch, log.info)
        watch.enter("read")
        network = patiently(lambda: _network(asked))
        made = plan_regions(network, _options(asked), watch)
        watch.enter("keep")
        kept = kept_of(network, made)
    except Interrupted:
        _without_plan(run, attempt, watch)
    except (PlatenError, RecordError) as error:
        text = "; ".join(map(str, error.faults)) if isinstance(error, PlatenError) else str(error)
        _failed(run, attempt, text)
    except Exception:
        log.exception("run %s: attempt %s failed", run, attempt)
        _failed(run, attempt, UNEXPECTED.format(run=run))
    else:
        if watch.stopped() and not watch.cancelled:
            patiently(lambda: run_keep(run=run, attempt=attempt, kept=kept))
            patiently(lambda: run_release(run=run, attempt=attempt))
        else:
            patiently(lambda: run_finish(run=run, attempt=attempt, kept=kept))
            log.info("run %s: ready, %s booked", run, kept.standing.booked)


def _without_plan(run: int, attempt: int, watch: RunWatch) -> None:
    if watch.cancelled:
        patiently(lambda: run_end_early(run=run, attempt=attempt))
    else:
        patiently(lambda: run_release(run=run, attempt=attempt))


def _failed(run: int, attempt: int, error: str) -> None:
    patiently(lambda: run_fail(run=run, attempt=attempt, error=error))
    log.warning("run %s: failed (%s)", run, error)


def _network(asked: PlanRun) -> Network:
    sites = [site.code for site in asked.sites.all()]
    return read(
        first_day=asked.first_day,
        days=asked.days,
        sites=sites or None,
        requests=asked.requests,
    )


def _options(asked: PlanRun) -> Options:
    return Options(
        seconds=asked.seconds,
        effort=asked.effort,
        seed=asked.seed,
        workers=settings.RUN_PROCESSES,
    )


def patiently(work: Callable[[], R]) -> R:
    """Do it; where the record is away, again until it is back. Not inside a transaction."""
    until = time.monotonic() + PATIENCE
    while True:
        try:
            return work()
        except AWAY as error:
            if connection.in_atomic_block or time.monotonic() > until:
                raise
            log.warning("the record is away (%s); trying again", error)
            connection.close()
            time.sleep(PAUSE)


def _never() -> bool:
    return False
