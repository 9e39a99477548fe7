"""The rules that a network keeps, checked on the typed value; every fault is listed with its path."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.errors import Fault

if TYPE_CHECKING:
    from planner.engine.network import Network


def network_faults(network: Network) -> list[Fault]:
    """Every fault of the network's values; an empty list where it is sound."""
    return []
