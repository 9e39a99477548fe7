"""Kinds of JSON value: how each is read, with every fault found, and how it is written.

A reader never raises. It appends what is wrong to ``found``, with the path below the value at
hand, and returns a stand-in (see `network_rules.values`), so that everything else is still read.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from math import isfinite, nan
from typing import Any

from planner.engine.network_rules.found import Found, Step, shown
from planner.engine.units import day_text, minute_text, parse_date, parse_day, parse_minute

# 1900 years in minutes; the solvers work on 64-bit whole numbers.
LARGEST = 1_000_000_000
_LARGEST_EXACT = 2.0**53

Reader = Callable[[Any, list[Found]], Any]


@dataclass(frozen=True, slots=True)
class Kind:
    """``what`` completes "... is not"; ``blank`` stands in for what could not be read."""

    what: str
    read: Reader
    write: Callable[[Any], Any]
    blank: Any


def deepen(found: list[Found], start: int, step: Step) -> None:
    """Put ``step`` before the paths of the faults from ``start`` on."""
    for i in range(start, len(found)):
        path, problem, remedy = found[i]
        found[i] = Found((step, *path), problem, remedy)


def _scalar(what: str, remedy: str, convert: Callable[[Any], Any], blank: Any) -> Kind:
    """A kind read by ``convert``, which raises ValueError or TypeError for what it refuses."""

    def read(raw: Any, found: list[Found]) -> Any:
        try:
            return convert(raw)
        except (ValueError, TypeError):
            found.append(Found((), f"{shown(raw)} is not {what}", remedy))
            return blank

    return Kind(what, read, _same, blank)


def _same(value: Any) -> Any:
    return value


def _text(raw: Any) -> str:
    # Half a surrogate pair can be written in JSON, but neither printed nor stored.
    if type(raw) is str and (raw.isascii() or raw.encode()):
        return raw
    raise ValueError


def _word(raw: Any) -> str:
    if not raw:
        raise ValueError
    return _text(raw)


def _truth(raw: Any) -> bool:
    if type(raw) is bool:
        return raw
    raise ValueError


def _whole(raw: Any) -> int:
    if type(raw) is int and -LARGEST <= raw <= LARGEST:
        return raw
    if type(raw) is float and raw.is_integer() and abs(raw) <= LARGEST:
        return int(raw)
    raise ValueError


def _number(raw: Any) -> float:
    if type(raw) is float and isfinite(raw):
        return raw
    if type(raw) is int:
        return float(raw)
    raise ValueError


def _write_number(value: float) -> float | int:
    """One text for one number, whether it was held as int or float."""
    exact = float(value)
    return int(exact) if exact.is_integer() and abs(exact) < _LARGEST_EXACT else exact


TEXT = _scalar("a text", "write a text in quotes", _text, "")
WORD = _scalar("a non-empty text", "write a text in quotes", _word, "")
TRUTH = _scalar("true or false", "write true or false, without quotes", _truth, False)
_WHOLE = _scalar(f"a whole number up to {LARGEST}", "write one such as 15", _whole, nan)
WHOLE = Kind(_WHOLE.what, _WHOLE.read, int, nan)
_NUMBER = _scalar("a finite number", "write one such as 0.5, without quotes", _number, nan)
NUMBER = Kind(_NUMBER.what, _NUMBER.read, _write_number, nan)


def optional(kind: Kind) -> Kind:
    """``kind``, or null for none."""

    def read(raw: Any, found: list[Found]) -> Any:
        return None if raw is None else kind.read(raw, found)

    def write(value: Any) -> Any:
        return None if value is None else kind.write(value)

    return Kind(f"{kind.what} or null", read, write, kind.blank)


def one_of(*words: str) -> Kind:
    """One of some words."""

    def convert(raw: Any) -> str:
        if type(raw) is str and raw in words:
            return raw
        raise ValueError

    listing = " or ".join(f'"{word}"' for word in words)
    return _scalar(listing, f"write {listing}", convert, "")


def _from_text(what: str, example: str, convert: Callable[[str], Any], blank: Any) -> Reader:
    """Read with ``convert`` and remember: dates and times come again and again."""
    known: dict[str, Any] = {}

    def remembered(raw: Any) -> Any:
        if type(raw) is not str:
            raise TypeError
        if (value := known.get(raw)) is None:
            value = known[raw] = convert(raw)
        return value

    return _scalar(what, f'write one such as "{example}"', remembered, blank).read


def calendar_date(blank: date) -> Kind:
    """A date that exists, as it is."""
    what = "a date that exists, YYYY-MM-DD"
    return Kind(what, _from_text(what, "2026-03-02", parse_date, blank), date.isoformat, blank)


def day_number(first_day: date) -> Kind:
    """A date that exists, as days since ``first_day``."""
    what = "a date that exists, YYYY-MM-DD"
    read = _from_text(what, "2026-03-02", lambda text: parse_day(text, first_day), nan)
    return Kind(what, read, lambda day: day_text(day, first_day), nan)


def minute_number(first_day: date) -> Kind:
    """A wall-clock time that exists, as minutes since ``first_day`` 00:00."""
    what = "a time that exists, YYYY-MM-DDTHH:MM"
    read = _from_text(what, "2026-03-02T09:00", lambda text: parse_minute(text, first_day), nan)
    return Kind(what, read, lambda minute: minute_text(minute, first_day), nan)
