"""The network file, read and written whole."""

from __future__ import annotations

from contextlib import suppress
from datetime import date
from math import nan
from typing import TYPE_CHECKING, Any

from planner.engine.codec.faults import refusal, told_once
from planner.engine.codec.network_fields import network_kind
from planner.engine.codec.records import lines
from planner.engine.codec.text import parse
from planner.engine.errors import FileRefused
from planner.engine.network import Network
from planner.engine.network_rules import broken_rules
from planner.engine.units import parse_date

if TYPE_CHECKING:
    from planner.engine.network_rules.found import Found

# Stands in for a first day that could not be read, so that the other dates still can.
_SOME_DAY = date(2000, 1, 1)


def decode_network(data: bytes) -> Network:
    """Read a network file's bytes.

    Raises
    ------
    FileRefused
        With one fault at ``line L, column C`` where the bytes are not JSON, else with every fault
        of the values, by path, in the order of the file.

    """
    raw, twice = parse(data)
    shapes: list[Found] = []
    first_day = _first_day(raw)
    parts = network_kind(first_day or _SOME_DAY).read(raw, shapes)
    if first_day is None and parts.days > 0:
        # Nobody can say where the horizon lies, hence not what lies outside it.
        parts.days = nan
    if not twice and not shapes:
        # The network checks itself; only one that is refused is checked again, to order faults.
        with suppress(FileRefused):
            return Network(**vars(parts))
    raise refusal(raw, [*twice, *told_once(shapes, broken_rules(parts))])


def encode_network(network: Network) -> bytes:
    """Write a network as a file's bytes: the same bytes for the same network.

    What equals its default is left out. `decode_network` gives the network back, except for the
    window of a break of 0 minutes, which means nothing.
    """
    return lines(network_kind(network.first_day).write(network))


def _first_day(raw: Any) -> date | None:
    try:
        return parse_date(raw["first_day"])
    except (KeyError, TypeError, ValueError):
        return None
