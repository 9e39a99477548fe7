"""The named sizes of generated networks."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Size:
    """How much is made: ``requests`` and ``sites`` (counts), ``days`` (calendar days).

    ``regions`` is the number of parts of the map that lie too far apart to share anything.
    """

    requests: int
    sites: int
    days: int
    regions: int = 1

    def __post_init__(self) -> None:
        for name in ("requests", "sites", "days", "regions"):
            if getattr(self, name) < 1:
                raise ValueError(f"{name}: expected at least 1, got {getattr(self, name)}")
        if self.regions > self.sites:
            raise ValueError(f"regions: expected at most {self.sites}, got {self.regions}")


SIZES = {
    "S": Size(requests=600, sites=4, days=5),
    "M": Size(requests=8_000, sites=15, days=10),
    "L": Size(requests=50_000, sites=40, days=20),
    "XL": Size(requests=300_000, sites=200, days=20),
}
