"""Whether a plan is one of a network at all."""

from __future__ import annotations

from planner.engine.errors import Fault, FileRefused
from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.engine.verify import verify_undrawn

TOLD = 10
"""Breaches told; one wrong file may hold thousands."""
LAST_RULE = 7
"""An appointment book can be read from a plan that keeps rules 1 to 7."""


def check_belongs(network: Network, plan: Plan) -> None:
    """Raise FileRefused unless the plan keeps rules 1 to 7 and states every profile's length."""
    broken = [item for item in verify_undrawn(network, plan) if item.rule <= LAST_RULE]
    remedy = "name the network that the plan was made for, or plan this one"
    faults = [Fault(f"plan, rule {item.rule}", item.detail, remedy) for item in broken[:TOLD]]
    if len(broken) > TOLD:
        faults.append(Fault("plan", f"{len(broken) - TOLD} more broken rules", remedy))
    faults += [
        Fault(f"lengths.{profile.id}", "missing key", remedy)
        for profile in network.profiles
        if plan.lengths.get(profile.id, 0) < 1
    ]
    if faults:
        raise FileRefused(faults)
