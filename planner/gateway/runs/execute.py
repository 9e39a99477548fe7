"""What a worker does with a run: claim, read, plan, keep; the run's row says how it went."""

from __future__ import annotations

import logging
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta

from django.conf import settings

from planner.engine.booking import Interrupted
from planner.engine.booking.regions import plan_regions, split
from planner.engine.booking.regions.run import LEAST
from planner.engine.errors import PlatenError
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.ready import make_ready
from planner.gateway.record import read
from planner.gateway.runs.parts import options_of, plan_with_others
from planner.gateway.runs.patience import AWAY, patiently
from planner.gateway.runs.result import kept_of
from planner.gateway.runs.watch import LeaseWatch
from sites.errors import ChangedMeanwhile, RecordError
from sites.models import PlanRun
from sites.services.runs import (
    Standing,
    run_claim,
    run_end_early,
    run_fail,
    run_finish,
    run_keep,
    run_progress,
    run_release,
)

log = logging.getLogger(__name__)

UNEXPECTED = "something went wrong that should not; the log of the workers tells more of run {run}"


def _never() -> bool:
    """Nothing ends this process."""
    return False


def _nobody(_: int) -> None:
    """Nobody else is asked."""


def execute(
    run: int,
    *,
    worker: str = "",
    ending: Callable[[], bool] = _never,
    call: Callable[[int], object] = _nobody,
) -> None:
    """Work on a waiting run until it ends; see the package.

    ``ending`` says whether this process is to end: the run is then given back, with its best plan
    so far. ``call`` asks so many other workers to help with this run. Nothing is raised for what
    goes wrong with the run: its row says it.
    """
    lease = timedelta(seconds=settings.RUN_LEASE)
    attempt = patiently(lambda: run_claim(run=run, worker=worker, lease=lease))
    if attempt is None:
        log.info("run %s waits no more", run)
        return
    log.info("run %s: attempt %s begins", run, attempt)

    def tell(standing: Standing) -> bool:
        return run_progress(run=run, attempt=attempt, lease=lease, standing=standing)

    with LeaseWatch(f"run {run}", tell, lease, ending, worker) as watch:
        try:
            _work(run, attempt, watch, call)
        except ChangedMeanwhile as error:
            log.warning("run %s: attempt %s was given up (%s)", run, attempt, error)
        except BaseException:
            # Told to end a second time: what is lost is this attempt, not the run.
            with suppress(ChangedMeanwhile, *AWAY):
                run_release(run=run, attempt=attempt)
            raise


def _work(run: int, attempt: int, watch: LeaseWatch, call: Callable[[int], object]) -> None:
    """Plan, and write how it ended. Raises ChangedMeanwhile where the run is somebody else's."""
    try:
        asked = patiently(lambda: PlanRun.objects.prefetch_related("sites").get(pk=run))
        make_ready(watch, log.info)
        watch.enter("read")
        network = patiently(lambda: _network(asked))
        made = _plan(asked, attempt, network, watch, call)
        watch.enter("keep")
        kept = kept_of(network, made)
    except Interrupted:
        _without_plan(run, attempt, watch)
    except ChangedMeanwhile:
        raise
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


def _plan(
    asked: PlanRun,
    attempt: int,
    network: Network,
    watch: LeaseWatch,
    call: Callable[[int], object],
) -> Plan:
    """Plan on this machine, or with other workers where there are any and regions for them."""
    options = options_of(asked)
    if settings.RUN_WORKERS > 1:
        regions = split(network, least=LEAST)
        if len(regions) > 1:
            return plan_with_others(asked.pk, attempt, network, regions, options, watch, call)
    return plan_regions(network, options, watch)


def _without_plan(run: int, attempt: int, watch: LeaseWatch) -> None:
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
