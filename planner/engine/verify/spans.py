"""Sets of minutes as sorted, disjoint, half-open intervals ``(start, end)``."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Span = tuple[int, int]


def union(spans: Iterable[Span]) -> list[Span]:
    """Their union, in order; intervals that touch become one, empty ones vanish."""
    joined: list[Span] = []
    for start, end in sorted(span for span in spans if span[0] < span[1]):
        if joined and start <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def common(a: Sequence[Span], b: Sequence[Span]) -> list[Span]:
    """The minutes in both ``a`` and ``b``, each sorted and disjoint."""
    both: list[Span] = []
    i = k = 0
    while i < len(a) and k < len(b):
        start, end = max(a[i][0], b[k][0]), min(a[i][1], b[k][1])
        if start < end:
            both.append((start, end))
        if a[i][1] <= b[k][1]:
            i += 1
        else:
            k += 1
    return both


def minutes(spans: Iterable[Span]) -> int:
    """How many minutes disjoint intervals hold."""
    return sum(end - start for start, end in spans)


def minutes_less(a: Sequence[Span], b: Sequence[Span]) -> int:
    """How many minutes of ``a`` are not in ``b``, each sorted and disjoint."""
    return minutes(a) - minutes(common(a, b))


def last_shared(spans: Sequence[Span], start: int, end: int) -> Span | None:
    """The last of sorted, disjoint ``spans`` that shares a minute with ``[start, end)``."""
    index = bisect_left(spans, (end,)) - 1  # the last that starts before ``end``
    if start < end and index >= 0 and spans[index][1] > start:
        return spans[index]
    return None
