"""Bytes to JSON values: what is not JSON is refused by line and column, once."""

from __future__ import annotations

import json
import re
from collections import Counter
from typing import TYPE_CHECKING, Any

from planner.engine.errors import Fault, FileRefused
from planner.engine.network_rules.found import Found, Path

if TYPE_CHECKING:
    from collections.abc import Iterator

# Tokens that matter when looking for a place: strings are skipped whole.
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|-?Infinity|NaN|[\[\]{}]', re.DOTALL)
_CONSTANTS = ("NaN", "Infinity", "-Infinity")
_LONGEST_INT = 19


class _ConstantError(Exception):
    """NaN or Infinity was read, which JSON does not have."""


def parse(data: bytes) -> tuple[Any, list[Found]]:
    """The value of a JSON text, and one fault for every key that an object gives twice.

    A byte order mark of UTF-8 is tolerated. Numbers too large for a double become infinite, and
    the last value of a key given twice stands.

    Raises
    ------
    FileRefused
        With one fault, at ``line L, column C`` (both from 1, columns in characters).

    """
    text = _text(data)
    # By identity; the objects are kept, so that no other takes the place of a lost one.
    doubled: dict[int, tuple[dict[str, Any], list[str]]] = {}

    def gather(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        value = dict(pairs)
        if len(value) != len(pairs):
            times = Counter(key for key, _ in pairs)
            doubled[id(value)] = value, [key for key in times if times[key] > 1]
        return value

    try:
        value = json.loads(
            text, object_pairs_hook=gather, parse_int=_integer, parse_constant=_refuse_constant
        )
    except json.JSONDecodeError as error:
        raise _refused(text, error.pos, f"not JSON: {error.msg}") from error
    except _ConstantError as error:
        place = next(m.start() for m in _TOKEN.finditer(text) if m[0] in _CONSTANTS)
        raise _refused(text, place, f"not JSON: {error} is no number") from error
    except RecursionError as error:
        raise _refused(text, _deepest(text), "nested too deeply to be read") from error
    twice = {identity: keys for identity, (_, keys) in doubled.items()}
    return value, list(_twice(value, twice)) if twice else []


def _text(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8-sig", "replace")
        raise _refused(before, len(before), f"not UTF-8 ({error.reason})") from error


def _integer(digits: str) -> int | float:
    # Python refuses to read very long whole numbers; none that long is of any use here.
    return int(digits) if len(digits) <= _LONGEST_INT else float(digits)


def _refuse_constant(name: str) -> None:
    raise _ConstantError(name)


def _refused(text: str, place: int, problem: str) -> FileRefused:
    line = text.count("\n", 0, place) + 1
    column = place - text.rfind("\n", 0, place)
    remedy = "write the file as JSON text (RFC 8259) in UTF-8"
    return FileRefused([Fault(f"line {line}, column {column}", problem, remedy)])


def _deepest(text: str) -> int:
    """Where the nesting reaches its greatest depth for the first time."""
    depth, deepest, place = 0, 0, 0
    for token in _TOKEN.finditer(text):
        if token[0] in ("[", "{"):
            depth += 1
            if depth > deepest:
                deepest, place = depth, token.start()
        elif token[0] in ("]", "}"):
            depth -= 1
    return place


def _twice(value: Any, twice: dict[int, list[str]]) -> Iterator[Found]:
    """Walk to the objects that gave keys twice; an explicit stack, for files may nest deeply."""
    stack: list[tuple[Path, Any]] = [((), value)]
    while stack:
        path, item = stack.pop()
        if isinstance(item, dict):
            for key in twice.get(id(item), ()):
                yield Found((*path, key), "key given twice", "keep one of them")
            stack.extend(((*path, key), below) for key, below in item.items())
        elif isinstance(item, list):
            stack.extend(((*path, i), below) for i, below in enumerate(item))
