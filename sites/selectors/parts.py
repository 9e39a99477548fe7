"""Many rows, in pieces that one query can name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypeVar

T = TypeVar("T")
AT_ONCE = 1000
"""Rows that one query names or writes."""


def parts(rows: Sequence[T]) -> Iterator[Sequence[T]]:
    """Pieces of `AT_ONCE` rows at most, in their order."""
    for start in range(0, len(rows), AT_ONCE):
        yield rows[start : start + AT_ONCE]
