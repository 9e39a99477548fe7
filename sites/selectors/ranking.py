"""The list of requests in order: who is at risk of missing the due date first.

One query reads what the order needs of every request that a list is about, in plain columns; the
order, the counts by standing and the chances are worked out from them. Sorting in the database
would ask where each request stands once for the counts and once more for the order, and its
arithmetic on dates is slow on SQLite.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
from django.core.exceptions import EmptyResultSet
from django.db import connections
from django.db.models import CharField, F, QuerySet
from django.db.models.functions import Cast

from sites.selectors.chance import Days, Pace, Shares
from sites.selectors.standing import Standing
from sites.step import OCCUPIES

ORDERS = ("slack", "chance", "due", "received", "reference")
NEEDS_A_TIME = (
    Standing.TO_BOOK,
    Standing.ON_HOLD,
    Standing.DISPLACED,
    Standing.RETURNED_IMAGE,
)
NAMES = list(Standing)
PART = 1000
"""Rows that are in Python's memory at once."""
CODES = {str(name): number for number, name in enumerate(NAMES)}


@dataclass(frozen=True, slots=True)
class Ranking:
    """Keys in order, the chance of each (nan: not said), and counts by standing before ``stands``.

    A chance is that of having no complete set by the due date, as `sites.selectors.chance` says.
    """

    keys: npt.NDArray[np.int64]
    chance: Shares
    counts: dict[str, int]

    def page(self, first: int, count: int) -> list[int]:
        """Keys from the ``first`` on."""
        return [int(key) for key in self.keys[first : first + count]]

    def chance_of(self, first: int, count: int) -> list[float | None]:
        """Their chances, None where nothing is said."""
        part = self.chance[first : first + count]
        return [None if np.isnan(each) else float(each) for each in part]


def requests_ranked(
    *,
    rows: QuerySet[Any],
    stands: list[str],
    order: str,
    today: date,
    pace: Pace,
) -> Ranking:
    """Rank requests with a ``standing`` (`requests_standing`), in one query.

    ``order`` is one of `ORDERS`, with a minus for the other way; equal ones go by chance, due date
    and key. Only those that stand at one of ``stands`` are ranked, all are counted.
    """
    key = order.removeprefix("-")
    text = {name: Cast(name, CharField()) for name in ("due", "release", "received")}
    read = (
        rows.annotate(booked_text=Cast("active__day", CharField()))
        .annotate(**{f"{name}_text": as_text for name, as_text in text.items()})
        .order_by()
        .values_list(
            "pk",
            "standing",
            "due_text",
            "release_text",
            "received_text",
            "booked_text",
            "active_step",
            F("profile__no_show"),
            *(["reference"] if key == "reference" else []),
        )
    )
    found = columns_of(read)
    if found is None:
        return Ranking(np.array([], np.int64), np.array([]), {})
    once = np.unique(found.key, return_index=True)[1]  # a filter may name a request twice
    counted = np.bincount(found.code[once], minlength=len(NAMES))
    counts = {str(name): int(counted[number]) for number, name in enumerate(NAMES)}
    keep = once[np.isin(found.code[once], [CODES[each] for each in stands])]
    keys, code, due = found.key[keep], found.code[keep], found.due[keep]
    now = day_number(today)
    at = np.where(found.placed[keep], found.booked[keep], now)
    no_show = found.no_show[keep]
    chance = chances(code, due, found.release[keep], at, no_show, now, pace)
    likely = -np.nan_to_num(chance, nan=-1.0)
    first = (
        text_rank(found.reference, keep)
        if key == "reference"
        else {"slack": due - at, "chance": likely, "due": due, "received": found.received[keep]}[
            key
        ]
    )
    sign = -1 if order.startswith("-") else 1
    rank = np.lexsort((keys, due, likely, sign * first))
    return Ranking(keys[rank], chance[rank], counts)


@dataclass(frozen=True, slots=True)
class Columns:
    """What is read of requests, an entry each; days are day numbers, 0 where there is none."""

    key: Days
    code: Days
    due: Days
    release: Days
    received: Days
    booked: Days
    placed: npt.NDArray[np.bool_]
    no_show: Shares
    reference: list[str] = field(kw_only=True)


def columns_of(read: QuerySet[Any, Any]) -> Columns | None:
    """The rows of the query as columns, None where there are none.

    They are read in parts that are let go at once: fifty thousand rows in Python's memory make its
    garbage collector look through all of it, which takes longer than the query.
    """
    days = DayNumbers()
    parts: list[list[npt.NDArray[Any]]] = []
    references: list[str] = []
    for rows in in_parts(read):
        key, stand, due, release, received, booked, step, no_show, *more = zip(*rows, strict=True)
        parts.append(
            [
                np.array(key, np.int64),
                numbered(stand, CODES),
                *(numbered(texts, days) for texts in (due, release, received, booked)),
                np.array([each in OCCUPIES for each in step]),
                np.array(no_show, float),
            ]
        )
        references += more[0] if more else ()
    if not parts:
        return None
    whole = (np.concatenate(each) for each in zip(*parts, strict=True))
    return Columns(*whole, reference=references)


def in_parts(read: QuerySet[Any, Any]) -> Iterator[list[Any]]:
    """The rows as the database's driver gives them, `PART` at a time."""
    try:
        sql, params = read.query.sql_with_params()
    except EmptyResultSet:  # a filter that nothing can pass
        return
    with connections[read.db].cursor() as cursor:
        cursor.execute(sql, params)
        while rows := cursor.fetchmany(PART):
            yield rows


class DayNumbers(dict[str | None, int]):
    """ISO dates by number, as `day_number` gives them; each is read once."""

    def __missing__(self, text: str | None) -> int:
        self[text] = day_number(date.fromisoformat(text)) if text else 0
        return self[text]


def numbered(values: Sequence[Any], numbers: Mapping[Any, int]) -> Days:
    """The number of each value."""
    return np.fromiter(map(numbers.__getitem__, values), np.int64, len(values))


def chances(
    code: npt.NDArray[np.int64],
    due: Days,
    release: Days,
    at: Days,
    no_show: Shares,
    now: int,
    pace: Pace,
) -> Shares:
    """The chance of each request of having no complete set by its due date; nan: not said.

    Without a place: how likely it takes longer than the days that are left, given those that have
    passed since its release. Booked in time: that nobody comes, and a new time is not found in
    the days left after it, at the pace of new requests. Booked after the due date: 1.
    """
    found = np.full(len(code), np.nan)
    if not pace.known:
        return found
    waited = np.maximum(0, now - release)
    left = due - np.maximum(now, release)
    open_ = np.isin(code, [CODES[each] for each in NEEDS_A_TIME])
    found = np.where(open_, pace.late(waited, left), found)
    booked = code == CODES[Standing.BOOKED]
    again = no_show * pace.after(due - at)
    return np.where(booked, np.where(at > due, 1.0, again), found)


def day_number(day: date) -> int:
    """Days since 1970."""
    return int(np.datetime64(day, "D").astype(np.int64))


def text_rank(texts: Sequence[str], keep: Days) -> Days:
    """The place of each text among the others, in order of code points."""
    return np.unique(np.array(texts)[keep], return_inverse=True)[1].astype(np.int64)
