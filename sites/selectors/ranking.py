"""The list of requests in order: who is at risk of missing the due date first.

One query reads what the order needs of every request that a list is about, in plain columns; the
order, the counts by standing and the chances are worked out from them. Sorting in the database
would ask where each request stands once for the counts and once more for the order, and its
arithmetic on dates is slow on SQLite.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
import numpy.typing as npt
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
            "reference",
        )
    )
    found = list({row[0]: row for row in read}.values())  # a filter may name a request twice
    if not found:
        return Ranking(np.array([], np.int64), np.array([]), {})
    columns = list(zip(*found, strict=True))
    code = np.array([CODES[each] for each in columns[1]])
    counted = np.bincount(code, minlength=len(NAMES))
    counts = {str(name): int(counted[number]) for number, name in enumerate(NAMES)}
    keep = np.isin(code, [CODES[each] for each in stands])
    days = [as_days(column)[keep] for column in columns[2:5]]
    placed = np.array([step in OCCUPIES for step in columns[6]])[keep]
    booked = np.where(placed, as_days(columns[5])[keep], NEVER)
    no_show = np.array(columns[7], dtype=float)[keep]
    keys = np.array(columns[0], dtype=np.int64)[keep]
    now = day_number(today)
    at = np.where(placed, booked, now)
    slack = days[0] - at
    chance = chances(code[keep], days[0], days[1], at, no_show, now, pace)
    first = {
        "slack": slack,
        "chance": -np.nan_to_num(chance, nan=-1.0),
        "due": days[0],
        "received": days[2],
        "reference": text_rank(columns[8], keep),
    }[order.removeprefix("-")]
    sign = -1 if order.startswith("-") else 1
    likely = -np.nan_to_num(chance, nan=-1.0)
    rank = np.lexsort((keys, days[0], likely, sign * first))
    return Ranking(keys[rank], chance[rank], counts)


NEVER = np.iinfo(np.int64).max // 4


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


def as_days(texts: tuple[str | None, ...]) -> Days:
    """ISO dates as day numbers; an empty one is day 0."""
    days = np.array([text or "1970-01-01" for text in texts], dtype="datetime64[D]")
    return days.astype(np.int64)


def day_number(day: date) -> int:
    """A date as `as_days` numbers it."""
    return int(np.datetime64(day, "D").astype(np.int64))


def text_rank(texts: tuple[str, ...], keep: npt.NDArray[np.bool_]) -> Days:
    """The place of each text among the others, in order of code points."""
    return np.unique(np.array(texts)[keep], return_inverse=True)[1].astype(np.int64)
