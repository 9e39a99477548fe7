"""The record's dates and wall clocks as the engine's days and minutes, and back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from planner.engine.network import Window
from planner.engine.units import DAY
from sites.clock import wall


@dataclass(frozen=True, slots=True)
class Horizon:
    """``days`` calendar days from ``first_day``; minutes count from its midnight."""

    first_day: date
    days: int

    @property
    def last_day(self) -> date:
        """The last day of the horizon, included."""
        return self.first_day + timedelta(days=self.days - 1)

    @property
    def end(self) -> int:
        """The minute at which the horizon ends."""
        return self.days * DAY

    @property
    def since(self) -> datetime:
        """An instant before the horizon begins in any zone: what ended by then is over."""
        return datetime.combine(self.first_day, time(), UTC) - timedelta(days=1)

    @property
    def until(self) -> datetime:
        """An instant after the horizon has ended in every zone."""
        return datetime.combine(self.last_day, time(), UTC) + timedelta(days=2)

    def day(self, day: date) -> int:
        """The number of a date."""
        return (day - self.first_day).days

    def minute(self, day: date, minute: int) -> int:
        """The number of a reading of the wall clock."""
        return self.day(day) * DAY + minute

    def calendar(self, day: int) -> date:
        """The date of a day's number."""
        return self.first_day + timedelta(days=day)

    def reading(self, minute: int) -> tuple[date, int]:
        """Date and minutes past midnight of a minute's number."""
        day, rest = divmod(minute, DAY)
        return self.calendar(day), rest

    def window(self, zone: str, starts_at: datetime, ends_at: datetime) -> Window:
        """Two instants on the clock of a zone; at least a minute, whatever that clock does."""
        start, end = (self.minute(*wall(zone, at)) for at in (starts_at, ends_at))
        return Window(start, max(end, start + 1))

    def reaches(self, start: int, end: int) -> bool:
        """Whether ``[start, end)`` and the horizon share a minute."""
        return start < self.end and end > 0


def covers(windows: list[Window] | tuple[Window, ...], start: int, end: int) -> bool:
    """Whether one of the windows holds the whole of ``[start, end)``."""
    return any(window.start <= start and end <= window.end for window in windows)


def less(start: int, end: int, cuts: list[Window]) -> list[Window]:
    """What is left of ``[start, end)`` without the cuts, in order."""
    left, at = [], start
    for cut in sorted(cuts, key=lambda each: each.start):
        if cut.start > at:
            left.append(Window(at, min(cut.start, end)))
        at = max(at, cut.end)
        if at >= end:
            break
    if at < end:
        left.append(Window(at, end))
    return [window for window in left if window.end > window.start]
