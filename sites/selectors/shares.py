"""Shares with their uncertainty."""

from __future__ import annotations

from dataclasses import dataclass

from scipy.stats import binomtest

CONFIDENCE = 0.95


@dataclass(frozen=True, slots=True)
class Share:
    """``hits`` of ``n``; ``value``, ``low`` and ``high`` in [0, 1], None where ``n`` is 0."""

    hits: int
    n: int
    value: float | None
    low: float | None
    high: float | None


def share(hits: int, n: int, confidence: float = CONFIDENCE) -> Share:
    """A share with its Wilson score interval (E. B. Wilson 1927, doi:10.2307/2276774).

    The interval keeps its coverage for small ``n`` and for shares near 0 and 1. Raises ValueError
    where ``hits`` is not in [0, n].
    """
    if not 0 <= hits <= n:
        raise ValueError(f"{hits} of {n}: expected 0 <= hits <= n")
    if not n:
        return Share(0, 0, None, None, None)
    found = binomtest(hits, n).proportion_ci(confidence, method="wilson")
    return Share(hits, n, hits / n, float(found.low), float(found.high))
