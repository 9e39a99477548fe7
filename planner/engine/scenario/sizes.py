"""The named sizes of generated networks."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Size:
    """How much is made: ``requests`` and ``sites`` (counts), ``days`` (calendar days)."""

    requests: int
    sites: int
    days: int

    def __post_init__(self) -> None:
        for name in ("requests", "sites", "days"):
            if getattr(self, name) < 1:
                raise ValueError(f"{name}: expected at least 1, got {getattr(self, name)}")


SIZES = {
    "S": Size(requests=600, sites=4, days=5),
    "M": Size(requests=8_000, sites=15, days=10),
    "L": Size(requests=50_000, sites=40, days=20),
    "XL": Size(requests=300_000, sites=200, days=20),
}
