"""Where a minute lies across a page: shares of the width, as the drawing takes them."""

from __future__ import annotations

from dataclasses import dataclass

HOUR = 60
QUARTER = 15
HOUR_PIXELS = 122
"""Drawn width of an hour: the shortest usual session (18 minutes) then holds its told time."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The minutes ``[start, end)`` that a page shows, both on a quarter of an hour."""

    start: int
    end: int

    @classmethod
    def around(cls, minutes: list[int]) -> Frame:
        """The quarters that hold all ``minutes``, at least an hour of them."""
        start = min(minutes) // QUARTER * QUARTER
        return cls(start, max(-(-max(minutes) // QUARTER) * QUARTER, start + HOUR))

    @property
    def pixels(self) -> int:
        """Least width of the drawing."""
        return (self.end - self.start) * HOUR_PIXELS // HOUR

    def at(self, minute: int) -> str:
        """Left edge of a minute as a share of the width; outside is moved to the edge."""
        inside = min(max(minute, self.start), self.end)
        return f"{100 * (inside - self.start) / (self.end - self.start):.3f}%"

    def wide(self, start: int, end: int) -> str:
        """Width of ``[start, end)``, cut to the frame."""
        inside = min(end, self.end) - max(start, self.start)
        return f"{100 * max(0, inside) / (self.end - self.start):.3f}%"

    def hours(self) -> list[int]:
        """The full hours inside, both ends included."""
        return list(range(-(-self.start // HOUR) * HOUR, self.end + 1, HOUR))
