"""Planning runs for the site at work: one at every step, and one that waits for a decision."""

from __future__ import annotations

from datetime import timedelta
from functools import lru_cache

from django.core.management.color import no_style
from django.db import connection

from planner.engine.booking import Options, plan
from planner.engine.codec import decode_network, encode_network
from planner.engine.plan import Plan
from planner.gateway.record import read
from planner.gateway.runs.result import kept_of
from sites.models import PlanRun
from sites.services.runs import (
    Standing,
    run_cancel,
    run_claim,
    run_fail,
    run_finish,
    run_progress,
    run_put_aside,
)
from tests.sites.build import DAY, World

READY, WAITING, PLANNING, FAILED, STOPPED, ASIDE = range(1, 7)
"""Numbers of the runs, which are part of their addresses."""
FIRST = DAY + timedelta(days=1)
LEASE = timedelta(minutes=10)


def runs(here: World) -> None:
    """Two earlier plans, then a run at each step; numbers as above."""
    for number in (ASIDE, READY):
        finished(here, number)
    run_put_aside(run=ASIDE)
    asked(here, WAITING)
    asked(here, PLANNING)
    attempt = run_claim(run=PLANNING, worker="w-1", lease=LEASE)
    assert attempt is not None
    told = Standing("improve", objective=1234.5, bound=1200.0, gap=0.02875, booked=7)
    run_progress(run=PLANNING, attempt=attempt, lease=LEASE, standing=told)
    asked(here, FAILED)
    attempt = run_claim(run=FAILED, worker="w-1", lease=LEASE)
    assert attempt is not None
    run_fail(run=FAILED, attempt=attempt, error="care clean-9: does not fit; widen its days")
    asked(here, STOPPED)
    run_cancel(run=STOPPED, by=here.desk)
    with connection.cursor() as cursor:  # PostgreSQL counts on from numbers that it gave itself
        for said in connection.ops.sequence_reset_sql(no_style(), [PlanRun]):
            cursor.execute(said)


def asked(here: World, number: int) -> PlanRun:
    """A run of five days at the site that waits for a worker."""
    run = PlanRun.objects.create(pk=number, first_day=FIRST, days=5, seconds=60, by=here.desk)
    run.sites.add(here.site)
    return run


def finished(here: World, number: int) -> PlanRun:
    """A run with a plan of the record as it stands."""
    run = asked(here, number)
    attempt = run_claim(run=number, worker="w-1", lease=LEASE)
    assert attempt is not None
    network = read(first_day=run.first_day, days=run.days, sites=[here.site.code])
    kept = kept_of(network, made(encode_network(network)))
    run_finish(run=number, attempt=attempt, kept=kept)
    return PlanRun.objects.get(pk=number)


@lru_cache(maxsize=16)
def made(network: bytes) -> Plan:
    """The plan of a network file: tests that start alike plan it once."""
    return plan(decode_network(network), Options(effort=1))
