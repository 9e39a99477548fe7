"""What the judge finds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Breach:
    """One rule (1 to 10 of the network format) that a plan breaks.

    ``things`` holds the ids that break it: requests, stations, technicians, care, appointments or
    profiles. ``detail`` is a sentence with the values and times.
    """

    rule: int
    things: tuple[str, ...]
    detail: str

    def __str__(self) -> str:
        return f"rule {self.rule}: {self.detail} [{', '.join(self.things)}]"
