"""The two files, and requests alone, as bytes: decode with every fault listed, encode loss-free."""

from planner.engine.codec.network_file import decode_network, encode_network
from planner.engine.codec.plan_file import decode_plan, encode_plan
from planner.engine.codec.request_file import decode_requests

__all__ = ["decode_network", "decode_plan", "decode_requests", "encode_network", "encode_plan"]
