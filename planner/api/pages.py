"""Lists page by page: a cursor says after which row the next page begins.

Rows that come or go meanwhile shift nothing: nobody is shown twice or skipped for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.core import signing
from django.db.models import Q, QuerySet

from planner.api.problems import BadQuery

Orders = Mapping[str, tuple[str, ...]]
"""Orders by name, each as its columns, which together tell every two rows apart."""

LIMIT = 50
MOST = 200
SALT = "planner.api.pages"
NOT_OURS = "is none that was given out: begin without one."

T = TypeVar("T")


def limit_of(text: str | None) -> int:
    """How many rows a page holds. Raises BadQuery."""
    if text is None:
        return LIMIT
    if not (text.isascii() and text.isdigit() and len(text) < 5 and 1 <= int(text) <= MOST):
        raise BadQuery({"limit": [f"is no number of rows: give 1 to {MOST}."]})
    return int(text)


def page_of(
    rows: QuerySet[Any], order: Sequence[str], limit: int, cursor: str | None
) -> tuple[list[Any], str | None]:
    """One page of rows in an order, and the cursor of the next one, None on the last.

    ``order`` names columns, with a minus where they fall; none may be empty, and all together tell
    every two rows apart. Raises BadQuery where the cursor is not of this order.
    """
    ordered = rows.order_by(*order)
    if cursor is not None:
        ordered = ordered.filter(beyond(order, opened(cursor, order)))
    found = list(ordered[: limit + 1])
    if len(found) <= limit:
        return found, None
    last = found[limit - 1]
    values = [pack(getattr(last, name.removeprefix("-"))) for name in order]
    return found[:limit], signing.dumps([list(order), values], salt=SALT)


def part_of(
    rows: Sequence[T], limit: int, cursor: str | None, *, of: Sequence[Any]
) -> tuple[Sequence[T], str | None]:
    """One page of rows that never change, and the cursor of the next one, None on the last.

    ``of`` says what rows they are. Raises BadQuery where the cursor is of others.
    """
    start = 0
    if cursor is not None:
        try:
            named, start = signing.loads(cursor, salt=f"{SALT}.fixed")
        except signing.BadSignature:
            raise BadQuery({"cursor": [NOT_OURS]}) from None
        if named != list(of):
            raise BadQuery({"cursor": ["is of another list: begin without one."]})
    end = start + limit
    more = signing.dumps([list(of), end], salt=f"{SALT}.fixed") if end < len(rows) else None
    return rows[start:end], more


def beyond(order: Sequence[str], values: Sequence[Any]) -> Q:
    """Rows after the one with these values: alike in the first columns, beyond in the next."""
    found, alike = Q(), Q()
    for name, value in zip(order, values, strict=True):
        column = name.removeprefix("-")
        side = "lt" if name.startswith("-") else "gt"
        found |= alike & Q(**{f"{column}__{side}": value})
        alike &= Q(**{column: value})
    return found


def opened(cursor: str, order: Sequence[str]) -> list[Any]:
    """The values of a cursor. It is signed, so what it holds was written here."""
    try:
        names, values = signing.loads(cursor, salt=SALT)
    except signing.BadSignature:
        raise BadQuery({"cursor": [NOT_OURS]}) from None
    if names != list(order):
        raise BadQuery({"cursor": ["is of another order: begin without one."]})
    return [unpack(value) for value in values]


def pack(value: Any) -> Any:
    """A column's value as JSON that says its type."""
    if isinstance(value, datetime):
        return ["instant", value.isoformat()]
    if isinstance(value, date):
        return ["day", value.isoformat()]
    if isinstance(value, timedelta):
        return ["time", value.total_seconds()]
    return ["plain", value]


def unpack(packed: Any) -> Any:
    """The value again."""
    kind, value = packed
    if kind == "instant":
        return datetime.fromisoformat(value)
    if kind == "day":
        return date.fromisoformat(value)
    return timedelta(seconds=value) if kind == "time" else value
