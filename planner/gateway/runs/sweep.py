"""Taking runs back from workers that are gone, and handing to the queue what waits."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings

from planner.gateway.runs.ask import send
from sites.selectors.runs import runs_to_send
from sites.services.runs import run_requeue_lapsed

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Swept:
    """Runs whose worker was given up and that wait again, and runs handed to the queue."""

    lapsed: tuple[int, ...]
    sent: tuple[int, ...]


def sweep(*, lapsed: bool = True) -> Swept:
    """One look at the runs; any number of processes may do it at once.

    ``lapsed`` False leaves leases alone, for a while in which nobody could renew one.
    """
    again = run_requeue_lapsed(most=settings.RUN_MOST_LOST) if lapsed else []
    for run in again:
        log.warning("run %s: its worker was not heard from; it waits for another", run)
    waiting = runs_to_send(after=timedelta(seconds=settings.RUN_RESEND))
    sent = [run for run in list(waiting.values_list("pk", flat=True)) if send(run)]
    return Swept(tuple(again), tuple(sent))
