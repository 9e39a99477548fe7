"""The two files as bytes: decode with every fault listed, encode loss-free."""

from __future__ import annotations

from planner.engine.network import Network
from planner.engine.plan import Plan


def decode_network(data: bytes) -> Network:
    """Read a network file's bytes."""
    raise NotImplementedError


def encode_network(network: Network) -> bytes:
    """Write a network as a file's bytes."""
    raise NotImplementedError


def decode_plan(data: bytes, network: Network) -> Plan:
    """Read a plan file's bytes."""
    raise NotImplementedError


def encode_plan(plan: Plan, network: Network) -> bytes:
    """Write a plan as a file's bytes."""
    raise NotImplementedError
