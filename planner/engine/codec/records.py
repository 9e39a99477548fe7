"""Kinds made of other kinds: lists, objects with any keys, and records with fields.

One table of fields says how a record is read and how it is written, so the two cannot differ.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from operator import attrgetter
from typing import TYPE_CHECKING, Any, Final

from planner.engine.codec.kinds import WORD, Kind, deepen
from planner.engine.network_rules.found import Found, nearest, shown

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


class _Required:
    """Stands for the value of a key that may not be left out."""


REQUIRED: Final = _Required()
_MISSING: Final = object()


@dataclass(frozen=True, slots=True)
class Field:
    """A key of a record.

    ``absent`` is the value where the key is left out, ``get`` takes the value from the record (by
    default, from its attribute named as the key), ``left_out`` tells of a record whether the key
    need not be written (by default, where the value equals ``absent``).
    """

    key: str
    kind: Kind
    absent: Any = REQUIRED
    get: Callable[[Any], Any] | None = None
    left_out: Callable[[Any], bool] | None = None


def listed(kind: Kind) -> Kind:
    """A list of ``kind``, as a tuple. Its stand-in holds one stand-in: what it held is unknown."""
    blank = (kind.blank,)

    def read(raw: Any, found: list[Found]) -> Any:
        if type(raw) is not list:
            found.append(Found((), f"{shown(raw)} is not a list", "write a list: [ ... ]"))
            return blank
        items = []
        for i, item in enumerate(raw):
            before = len(found)
            items.append(kind.read(item, found))
            if len(found) != before:
                deepen(found, before, i)
        return tuple(items)

    def write(value: Any) -> Any:
        return [kind.write(item) for item in value]

    return Kind("a list", read, write, blank)


def mapped(kind: Kind) -> Kind:
    """An object with any non-empty keys whose values are of ``kind``, as a dict."""

    def read(raw: Any, found: list[Found]) -> Any:
        if type(raw) is not dict:
            found.append(Found((), f"{shown(raw)} is not an object", "write an object: { ... }"))
            return {}
        items = {}
        for key, value in raw.items():
            before = len(found)
            WORD.read(key, found)
            items[key] = kind.read(value, found)
            deepen(found, before, key)
        return items

    def write(value: Any) -> Any:
        return {key: kind.write(item) for key, item in value.items()}

    return Kind("an object", read, write, {})


def record(make: Callable[..., Any], *fields: Field) -> Kind:
    """An object with these fields, given to ``make`` by position in this order."""
    keys = frozenset(field.key for field in fields)
    rows = [(f.key, f.kind.read, f.absent, f.kind) for f in fields]
    blank = make(*(field.kind.blank for field in fields))

    def read(raw: Any, found: list[Found]) -> Any:
        if type(raw) is not dict:
            found.append(Found((), f"{shown(raw)} is not an object", "write an object: { ... }"))
            return blank
        if not raw.keys() <= keys:
            found.extend(_unknown(raw, keys))
        values = []
        for key, read_value, absent, kind in rows:
            value = raw.get(key, _MISSING)
            if value is not _MISSING:
                before = len(found)
                values.append(read_value(value, found))
                if len(found) != before:
                    deepen(found, before, key)
            elif absent is REQUIRED:
                found.append(Found((key,), "missing key", f"add it: {kind.what}"))
                values.append(kind.blank)
            else:
                values.append(absent)
        return make(*values)

    columns = [
        (f.key, f.get or attrgetter(f.key), f.kind.write, f.absent, f.left_out) for f in fields
    ]

    def write(value: Any) -> Any:
        raw = {}
        for key, get, write_value, absent, left_out in columns:
            item = get(value)
            if not (item == absent if left_out is None else left_out(value)):
                raw[key] = write_value(item)
        return raw

    return Kind("an object", read, write, blank)


def _unknown(raw: dict[str, Any], keys: frozenset[str]) -> Iterator[Found]:
    for key in raw:
        if key not in keys:
            guess = nearest(key, frozenset(keys - raw.keys())) or nearest(key, keys)
            remedy = f"did you mean `{guess}`?" if guess else "remove it"
            yield Found((key,), "unknown key", remedy)


def lines(raw: dict[str, Any]) -> bytes:
    """An object as JSON text in UTF-8: a key a line, and in its lists an item a line.

    Raises ValueError for a number that is not finite, which JSON cannot hold.
    """
    encoder = json.JSONEncoder(ensure_ascii=False, allow_nan=False)
    parts = []
    for key, value in raw.items():
        if isinstance(value, list) and value:
            items = ",\n    ".join([encoder.encode(item) for item in value])
            text = f"[\n    {items}\n  ]"
        else:
            text = encoder.encode(value)
        parts.append(f"  {encoder.encode(key)}: {text}")
    return ("{\n" + ",\n".join(parts) + "\n}\n").encode()
