"""The plan file: its fields, and how a whole one is read and written.

Only the shape is judged here. What a plan says about its network is judged by `verify`, which
names the rule that is broken.
"""

from __future__ import annotations

from dataclasses import replace
from operator import attrgetter
from typing import TYPE_CHECKING, Any

from planner.engine import plan as model
from planner.engine.codec.faults import refusal, told_once
from planner.engine.codec.kinds import (
    NUMBER,
    TEXT,
    WHOLE,
    WORD,
    Kind,
    day_number,
    minute_number,
    one_of,
    optional,
)
from planner.engine.codec.records import Field, lines, listed, mapped, record
from planner.engine.codec.text import parse
from planner.engine.network_rules.values import above_zero, probability

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from planner.engine.network import Network
    from planner.engine.network_rules.found import Found

FORMAT = "platen-plan/1"
PARTS = ("am", "pm", "day")

_FURTHER = mapped(NUMBER)
_STATION, _TECHNICIAN = "station_minute:", "technician_minute:"


def decode_plan(data: bytes, network: Network) -> model.Plan:
    """Read a plan file's bytes; times and dates are counted from the network's first day.

    Raises
    ------
    FileRefused
        With one fault at ``line L, column C`` where the bytes are not JSON, else with every fault
        of the values, by path, in the order of the file. Names that the network does not hold
        are no faults here.

    """
    raw, twice = parse(data)
    shapes: list[Found] = []
    plan: model.Plan = _plan_kind(network.first_day).read(raw, shapes)
    faults = [*twice, *told_once(shapes, _value_faults(plan))]
    if faults:
        raise refusal(raw, faults)
    return plan


def encode_plan(plan: model.Plan, network: Network) -> bytes:
    """Write a plan as a file's bytes: the same bytes for the same plan, `seconds` at the end.

    Raises ValueError for a number that is not finite.
    """
    return lines(_plan_kind(network.first_day).write(plan))


def _value_faults(plan: model.Plan) -> Iterator[Found]:
    for i, booking in enumerate(plan.bookings):
        if not 0 <= booking.p_wait <= 1:
            yield from probability(("bookings", i, "p_wait"), booking.p_wait)
    for profile, minutes in plan.lengths.items():
        yield from above_zero(("lengths", profile), minutes)


def _plan_kind(first_day: date) -> Kind:
    """A whole plan, for times and dates counted from ``first_day``."""
    minute = minute_number(first_day)
    return record(
        _plan,
        Field("format", one_of(FORMAT), get=lambda _: FORMAT),
        Field("bookings", listed(_booking(minute))),
        Field("care", listed(_care(minute))),
        Field("care_unplaced", listed(_CARE_UNPLACED)),
        Field("breaks", listed(_break(minute))),
        Field("unbooked", listed(_UNBOOKED)),
        Field("moved", listed(WORD)),
        Field("lengths", mapped(WHOLE)),
        Field("objective", NUMBER),
        Field("bound", NUMBER),
        Field("gap", optional(NUMBER)),
        Field("prices", listed(_price(day_number(first_day)))),
        Field("seconds", mapped(NUMBER)),
    )


def _plan(_format: str, *values: Any) -> model.Plan:
    return model.Plan(*values)


_CARE_UNPLACED = record(model.CareUnplaced, Field("care", WORD), Field("reason", TEXT))
_REASON = record(model.Reason, Field("code", WORD), Field("detail", TEXT), Field("remedy", TEXT))
_UNBOOKED = record(model.Unbooked, Field("request", WORD), Field("reasons", listed(_REASON)))


def _booking(minute: Kind) -> Kind:
    return record(
        model.Booking,
        Field("request", WORD),
        Field("site", WORD),
        Field("station", WORD),
        Field("technician", WORD),
        Field("start", minute),
        Field("told", minute),
        Field("minutes", WHOLE),
        Field("p_wait", NUMBER),
    )


def _care(minute: Kind) -> Kind:
    return record(
        model.CarePlaced,
        Field("care", WORD),
        Field("start", minute),
        Field("technician", WORD, None),
    )


def _break(minute: Kind) -> Kind:
    return record(
        model.Break, Field("technician", WORD), Field("start", minute), Field("minutes", WHOLE)
    )


def _price(day: Kind) -> Kind:
    """A price; its further keys hold the word (a feature or a skill) after the colon."""
    common = record(
        model.Price,
        Field("site", WORD),
        Field("date", day, get=attrgetter("day")),
        Field("part", one_of(*PARTS)),
        Field("station_minute", NUMBER),
        Field("technician_minute", NUMBER),
    )

    def read(raw: Any, found: list[Found]) -> Any:
        if type(raw) is not dict:
            return common.read(raw, found)
        further = {key: value for key, value in raw.items() if _is_further(key)}
        rest = {key: value for key, value in raw.items() if key not in further}
        price = common.read(rest, found)
        words = _FURTHER.read(further, found)
        skilled, featured = _with(_TECHNICIAN, words), _with(_STATION, words)
        return replace(price, skilled=skilled, featured=featured)

    def write(price: Any) -> Any:
        further = {_STATION + word: value for word, value in price.featured}
        further |= {_TECHNICIAN + word: value for word, value in price.skilled}
        return common.write(price) | _FURTHER.write(further)

    return Kind(common.what, read, write, common.blank)


def _is_further(key: str) -> bool:
    return any(key.startswith(start) and key != start for start in (_STATION, _TECHNICIAN))


def _with(start: str, words: dict[str, float]) -> tuple[tuple[str, float], ...]:
    return tuple(
        (key.removeprefix(start), value) for key, value in words.items() if key.startswith(start)
    )
