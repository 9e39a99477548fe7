"""Asking for a run, and handing it to the queue."""

from __future__ import annotations

import logging
from collections.abc import Collection
from datetime import date
from functools import partial

from django.db import transaction

from planner.gateway.runs.task import plan_run
from sites.errors import BadValue
from sites.models import PlanRun, Site, User
from sites.services.runs import run_ask, run_sent

log = logging.getLogger(__name__)


def ask(
    *,
    first_day: date,
    days: int,
    sites: Collection[str] | None = None,
    requests: Collection[str] | None = None,
    seconds: float | None = None,
    effort: int | None = None,
    seed: int = 0,
    by: User | None = None,
) -> PlanRun:
    """Ask for a run; see the package. It is sent when the transaction is committed."""
    run = run_ask(
        first_day=first_day,
        days=days,
        sites=() if sites is None else _sites(sites),
        requests=None if requests is None else list(requests),
        seconds=seconds,
        effort=effort,
        seed=seed,
        by=by,
    )
    transaction.on_commit(partial(send, run.pk))
    return run


def send(run: int) -> bool:
    """Hand a waiting run to the queue; False where that is away: `sweep` sends it later.

    A run that is sent twice is planned once: the first worker to claim it has it.
    """
    try:
        plan_run.enqueue(run)
    except Exception as error:  # whatever a broker raises, the run waits
        log.warning("run %s waits: the queue cannot be reached (%s)", run, error)
        return False
    run_sent(run=run)
    return True


def _sites(codes: Collection[str]) -> list[Site]:
    found = list(Site.objects.filter(code__in=codes))
    unknown = sorted(set(codes) - {site.code for site in found})
    if unknown:
        raise BadValue(f"site {unknown[0]}", "is not known", "choose from the list of sites")
    if not found:
        raise BadValue("the list of sites", "is empty", "name a site, or ask for all")
    return found
