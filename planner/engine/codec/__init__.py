"""The two files as bytes: decode with every fault listed, encode loss-free."""

from planner.engine.codec.network_file import decode_network, encode_network
from planner.engine.codec.plan_file import decode_plan, encode_plan

__all__ = ["decode_network", "decode_plan", "encode_network", "encode_plan"]
