"""Planning the demo's next three weeks: the record read, a plan made and checked, and kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from time import perf_counter

from planner.engine.booking import Options, Watch, plan
from planner.engine.errors import Fault, PlanUnsound
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.verify import verify
from planner.gateway.demo.serve import moment
from planner.gateway.demo.story import PLAN_DAYS
from planner.gateway.record import Written, read, write

DRAWS, SEED = 2000, 20_001


@dataclass(frozen=True, slots=True)
class Ahead:
    """The network that the record gave, the plan for it, and what was kept of it."""

    network: Network
    plan: Plan
    written: Written
    read_seconds: float
    write_seconds: float


def plan_ahead(today: date, options: Options, watch: Watch) -> Ahead:
    """Plan from today on and write it. Raises Interrupted, PlanUnsound or what the doors raise."""
    begun = perf_counter()
    network = read(first_day=today, days=PLAN_DAYS)
    got = perf_counter()
    made = plan(network, options, watch)
    broken = verify(network, made, draws=DRAWS, seed=SEED, care_may_be_unplaced=False)
    if broken:
        remedy = "report this with the demo's date"
        raise PlanUnsound([Fault("plan", str(item), remedy) for item in broken])
    writes = perf_counter()
    written = write(network, made, at=moment(today), seed=options.seed)
    return Ahead(network, made, written, got - begun, perf_counter() - writes)


def ahead_lines(ahead: Ahead) -> list[str]:
    """What was planned and kept, in words."""
    kept, asked = ahead.written, len(ahead.network.requests)
    return [
        f"planned     {len(ahead.plan.bookings):,} of {asked:,} open requests into the "
        f"next {PLAN_DAYS} days, checked: no rule broken",
        f"kept        {kept.booked:,} booked, {kept.moved:,} moved, {kept.stood:,} left where they "
        f"were, {kept.care:,} care, {kept.breaks:,} breaks, {len(kept.changed):,} not kept",
        f"record      read {ahead.read_seconds:.1f} s, written {ahead.write_seconds:.1f} s",
    ]
