"""Requests in a file of their own, as the network file would hold them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from planner.engine.codec.faults import refusal, told_once
from planner.engine.codec.network_fields import request_kind
from planner.engine.codec.records import listed
from planner.engine.codec.text import parse
from planner.engine.network_rules.demand import request_faults
from planner.engine.network_rules.found import Found, shown

if TYPE_CHECKING:
    from datetime import date

    from planner.engine.network import Network, Request


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the rules of requests look at."""

    requests: tuple[Request, ...]
    first_day: date


def decode_requests(data: bytes, network: Network) -> tuple[Request, ...]:
    """Read a file that holds one request, or a list of requests, for ``network``.

    A request is written as in the network's ``requests``, and keeps the same rules. Its id may be
    one that the network holds: whether that makes sense is for the caller to say.

    Raises
    ------
    FileRefused
        With one fault at ``line L, column C`` where the bytes are not JSON, else with every fault
        of the values, in the order of the file; paths are ``due`` in a file of one request and
        ``[3].due`` in a list.

    """
    raw, twice = parse(data)
    if not isinstance(raw, list | dict):
        problem = f"{shown(raw)} is neither a request nor a list of requests"
        raise refusal(raw, [Found((), problem, "write an object { ... }, or a list of such")])
    alone = isinstance(raw, dict)
    shapes: list[Found] = []
    kind = listed(request_kind(network.first_day))
    requests: tuple[Request, ...] = kind.read([raw] if alone else raw, shapes)
    asked: Any = _Asked(requests, network.first_day)
    sites = {site.id: site for site in network.sites}
    profiles = {profile.id: profile for profile in network.profiles}
    rules = [_within(found, 1) for found in request_faults(asked, sites, profiles)]
    faults = told_once(shapes, rules)
    if alone:
        faults = [_within(found, 1) for found in faults]
    if twice or faults:
        raise refusal(raw, [*twice, *faults])
    return requests


def _within(found: Found, steps: int) -> Found:
    """A fault with so many steps taken off the front of its path."""
    return found._replace(path=found.path[steps:])
