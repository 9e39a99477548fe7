"""A run's plan with the network it is for, as the bytes that are kept, and back."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from hashlib import sha256

from planner.engine.codec import decode_network, decode_plan, encode_network, encode_plan
from planner.engine.network import Network
from planner.engine.plan import Plan
from sites.models import PlanRun
from sites.selectors.runs import run_result
from sites.services.runs import Kept, Standing, not_ready


@dataclass(frozen=True, slots=True)
class Result:
    """The best plan of a run so far, and the network that it is for."""

    network: Network
    plan: Plan


def result(run: int) -> Result:
    """Read what was kept. Raises NotReady where there is no plan, and PlanRun.DoesNotExist."""
    row = run_result(run=run)
    if row is None:
        raise not_ready(PlanRun.objects.get(pk=run))
    network = decode_network(zlib.decompress(row.network))
    return Result(network, decode_plan(zlib.decompress(row.plan), network))


def kept_of(network: Network, plan: Plan) -> Kept:
    """A plan and its network as they are kept."""
    files = encode_network(network), encode_plan(plan, network)
    standing = Standing(
        objective=plan.objective, bound=plan.bound, gap=plan.gap, booked=len(plan.bookings)
    )
    return Kept(
        network=zlib.compress(files[0]),
        plan=zlib.compress(files[1]),
        network_digest=sha256(files[0]).hexdigest(),
        plan_digest=sha256(files[1]).hexdigest(),
        standing=standing,
        unbooked=len(plan.unbooked),
    )
