"""Random shifts with breaks: split shifts, nights, a technician at two sites on one date."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol, TypeVar

from planner.engine.network import Shift, Site
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

T = TypeVar("T")


class Pick(Protocol):
    """Chooses one of some options."""

    def __call__(self, options: Sequence[T], /) -> T: ...


USUAL = ((540, 1020),)
SPANS: tuple[tuple[tuple[int, int], ...], ...] = (
    *(USUAL,) * 5,
    (),
    ((500, 730), (730, 1010)),
    ((540, 780), (840, 1050)),
    ((600, 615),),
    ((1320, 1800),),
    ((0, 1440),),
)
"""Shifts of one day, in minutes past midnight."""


def draw_shifts(pick: Pick, sites: tuple[Site, ...], home: int, days: int) -> tuple[Shift, ...]:
    """Shifts of one technician that do not overlap; those of one date lie in one zone.

    Most are at site ``home`` (modulo their number).
    """
    shifts: list[Shift] = []
    for day in range(-1, days + 1):
        usual = sites[home % len(sites)]
        for low, high in pick(SPANS):
            start, end = day * DAY + low, day * DAY + high
            site = pick((usual, usual, usual, *sites))
            if not shifts or _may_follow(shifts[-1], start, site, sites):
                shifts.append(_with_break(pick, site.id, start, end))
    return tuple(shifts)


def _may_follow(before: Shift, start: int, site: Site, sites: tuple[Site, ...]) -> bool:
    zone = next(item.timezone for item in sites if item.id == before.site)
    another_date = (before.end - 1) // DAY < start // DAY
    return start >= before.end and (another_date or zone == site.timezone)


def _with_break(pick: Pick, site: str, start: int, end: int) -> Shift:
    minutes = pick((0, 0, 15, 30, 60))
    if minutes > end - start:
        minutes = 0
    kind = pick(("whole", "middle", "exact", "wider")) if minutes else "whole"
    low, high = start, end
    if kind == "middle":
        spare = (end - start - minutes) // 3
        low, high = start + spare, end - spare
    elif kind == "exact":
        low = start + pick(range((end - start - minutes) // 15 + 1)) * 15
        high = low + minutes
    elif kind == "wider":
        low, high = start - 50, end + 45
    return Shift(site, start, end, minutes, low, high)
