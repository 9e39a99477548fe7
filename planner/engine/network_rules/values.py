"""Checks of one value each. Written so that NaN, and an empty id, are refused where they stand.

The file reader puts NaN and ``""`` where a value could not be read, and drops what is found at
that very path. Checks that compare two values ask for the bad order (``due < release``), which is
false for NaN: what is unknown is not blamed a second time.
"""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING, Protocol

from planner.engine.network_rules.found import Found, Path, clock, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from datetime import date


class _Named(Protocol):
    @property
    def id(self) -> str: ...


class _Span(Protocol):
    @property
    def start(self) -> int: ...

    @property
    def end(self) -> int: ...


def above_zero(path: Path, value: float) -> Iterator[Found]:
    """``value`` is finite and > 0."""
    if not 0 < value < inf:
        yield Found(path, f"{shown(value)} is not above 0", "write a number above 0")


def not_negative(path: Path, value: float) -> Iterator[Found]:
    """``value`` is finite and >= 0."""
    if not 0 <= value < inf:
        yield Found(path, f"{shown(value)} is not at least 0", "write 0 or a number above it")


def probability(path: Path, value: float) -> Iterator[Found]:
    """``value`` lies in [0, 1]."""
    if not 0 <= value <= 1:
        yield Found(path, f"{shown(value)} is not within [0, 1]", "write a share, such as 0.05")


def spans(path: Path, windows: Sequence[_Span], first_day: date) -> Iterator[Found]:
    """Every window ends after it starts."""
    for i, window in enumerate(windows):
        if window.end <= window.start:
            since, until = clock(window.start, first_day), clock(window.end, first_day)
            problem = f"{until} is not after `from` ({since})"
            yield Found((*path, i, "to"), problem, "write a later time, or swap the two")


def overlaps(windows: Sequence[_Span]) -> Iterator[tuple[int, int]]:
    """Pairs (earlier, later in the list) of windows that share a minute; touching is no overlap.

    Each window is compared with the one before it that lasts longest, so that one long window
    over many short ones is told once for each of them.
    """
    order = sorted((w.start, w.end, i) for i, w in enumerate(windows) if w.start < w.end)
    furthest, holder = -inf, -1
    for start, end, i in order:
        if start < furthest:
            yield min(holder, i), max(holder, i)
        if end > furthest:
            furthest, holder = end, i


def words(path: Path, values: Iterable[str]) -> Iterator[Found]:
    """Features and skills are words, not empty."""
    for i, word in enumerate(values):
        if not word:
            yield Found((*path, i), '"" is empty', "write a word, or remove it")


def own_ids(kind: str, records: Sequence[_Named]) -> Iterator[Found]:
    """Every record has an id, and no two have the same."""
    first: dict[str, int] = {}
    for i, record in enumerate(records):
        if not record.id:
            yield Found((kind, i, "id"), '"" is empty', "give it an id")
        elif (before := first.setdefault(record.id, i)) != i:
            problem = f"{shown(record.id)} is given twice, first in {kind}[{before}]"
            yield Found((kind, i, "id"), problem, "give each its own id")


def known(path: Path, name: str, kind: str, index: Mapping[str, object]) -> Iterator[Found]:
    """``name`` is the id of one of ``kind``."""
    if is_missing(name, index):
        remedy = f"write an id that `{kind}` holds, or add it there"
        yield Found(path, f"{shown(name)} is no id in `{kind}`", remedy)


def is_missing(name: str, index: Mapping[str, object]) -> bool:
    """Whether no record has this id, nor could: a record whose id is unknown might be the one."""
    return name not in index and "" not in index
