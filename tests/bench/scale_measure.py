"""Measure one network: made or read, written, read, planned and checked, each against the clock."""

from __future__ import annotations

import resource
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from planner.engine.booking import Options, plan
from planner.engine.codec import decode_network, encode_network
from planner.engine.scenario.demo import demo_network
from planner.engine.scenario.describe import describe
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import SIZES
from planner.engine.verify import verify
from planner.gateway.files import read_network

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.engine.network import Network
    from planner.engine.plan import Plan

DEMO = "demo"
Made = TypeVar("Made")


@dataclass(frozen=True, slots=True)
class Job:
    """One measurement: ``case`` is a size, ``demo`` or a network file.

    ``seconds`` and ``effort`` are the planning budget as `Options` has it; ``draws`` are those of
    the check. ``plans`` false ends after reading.
    """

    case: str
    seed: int = 1
    load: float = 1.0
    seconds: float | None = None
    effort: int | None = None
    workers: int = 1
    draws: int = 10_000
    plans: bool = True


@dataclass(frozen=True, slots=True)
class Row:
    """What was measured. Times are wall-clock seconds, sizes millions of bytes.

    What follows ``peak_mb`` but for ``load`` and ``density`` is None where nothing was planned.
    """

    case: str
    requests: int
    sites: int
    station_days: int
    days: int
    load: float | None
    density: float | None
    file_mb: float
    make_s: float
    write_s: float
    read_s: float
    peak_mb: float
    plan_s: float | None = None
    check_s: float | None = None
    booked: int | None = None
    unbooked: int | None = None
    broken: int | None = None
    cost: float | None = None
    bound: float | None = None
    gap: float | None = None


def measure(job: Job) -> Row:
    """Run one job.

    Raises whatever making, reading or planning raises: a benchmark hides no failure.
    """
    made, make_s = _timed(lambda: _network(job))
    data, write_s = _timed(lambda: encode_network(made))
    network, read_s = _timed(lambda: decode_network(data))
    if network != made:
        raise AssertionError(f"{job.case}: the network read is not the one written")
    found = describe(network)
    total = found.total()
    planned: dict[str, float | int | None] = {}
    if job.plans:
        result, plan_s = _timed(lambda: _plan(network, job))
        breaches, check_s = _timed(
            lambda: verify(
                network, result, draws=job.draws, seed=job.seed, care_may_be_unplaced=False
            )
        )
        planned = {
            "plan_s": plan_s,
            "check_s": check_s,
            "booked": len(result.bookings),
            "unbooked": len(result.unbooked),
            "broken": len(breaches),
            "cost": result.objective,
            "bound": result.bound,
            "gap": result.gap,
        }
    return Row(
        case=Path(job.case).stem,
        requests=len(network.requests),
        sites=len(network.sites),
        station_days=total.station_days,
        days=network.days,
        load=total.load,
        density=found.density(),
        file_mb=len(data) / 1e6,
        make_s=make_s,
        write_s=write_s,
        read_s=read_s,
        peak_mb=resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3,
        **planned,  # type: ignore[arg-type] # the keys are literals of Row, just above
    )


def _network(job: Job) -> Network:
    if job.case == DEMO:
        return demo_network(job.seed)
    if job.case in SIZES:
        return generate(SIZES[job.case], seed=job.seed, load=job.load)
    return read_network(Path(job.case))


def _plan(network: Network, job: Job) -> Plan:
    """The one place where the engine is asked for a plan."""
    options = Options(seconds=job.seconds, effort=job.effort, seed=job.seed, workers=job.workers)
    return plan(network, options)


def _timed(work: Callable[[], Made]) -> tuple[Made, float]:
    began = time.perf_counter()
    done = work()
    return done, time.perf_counter() - began
