"""Between a site's wall clock and instants.

An hour that comes twice, when clocks go back, is read as its first one where a time starts and as
its second where a time ends, so that a closed hour covers both; an hour that is left out, when
clocks go forward, has no start. A visit lasts its minutes on any clock.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import TypedDict
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sites.errors import BadValue

MINUTES_A_DAY = 24 * 60


class Span(TypedDict):
    """The fields of a `WallSpan`."""

    day: date
    minute: int
    minutes: int
    starts_at: datetime
    ends_at: datetime


def zone_of(name: str) -> ZoneInfo:
    """The zone of an IANA name. Raises BadValue where there is none."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError):
        raise BadValue(name, "is no time zone", "use an IANA name such as Europe/Paris") from None


def instant(zone: str, day: date, minute: int, *, ends: bool = False) -> datetime:
    """The instant of ``minute`` (past midnight; a later day from 1440 on) as UTC.

    Raises BadValue where a start lies in an hour that the clock leaves out.
    """
    wall = datetime.combine(day, time()) + timedelta(minutes=minute)
    local = wall.replace(tzinfo=zone_of(zone), fold=int(ends))
    at = local.astimezone(UTC)
    if not ends and at.astimezone(local.tzinfo).replace(tzinfo=None) != wall:
        raise BadValue(
            f"{wall:%Y-%m-%dT%H:%M}",
            f"does not exist in {zone}: clocks go forward over it",
            "start an hour later",
        )
    return at


def wall(zone: str, at: datetime) -> tuple[date, int]:
    """Date and minutes past midnight that the clock on the wall shows at an instant."""
    local = at.astimezone(zone_of(zone))
    return local.date(), local.hour * 60 + local.minute


def wall_span(zone: str, day: date, minute: int, minutes: int) -> Span:
    """A time between two readings of the wall clock: a shift, a closure, a downtime."""
    day, minute = checked(day, minute, minutes)
    starts = instant(zone, day, minute)
    ends = instant(zone, day, minute + minutes, ends=True)
    return Span(day=day, minute=minute, minutes=minutes, starts_at=starts, ends_at=ends)


def visit_span(zone: str, day: date, minute: int, minutes: int) -> Span:
    """A time that lasts its minutes whatever the clock does: a visit, care."""
    day, minute = checked(day, minute, minutes)
    starts = instant(zone, day, minute)
    ends = starts + timedelta(minutes=minutes)
    return Span(day=day, minute=minute, minutes=minutes, starts_at=starts, ends_at=ends)


def checked(day: date, minute: int, minutes: int) -> tuple[date, int]:
    """The same time with ``minute`` inside its day. Raises BadValue for a length not above 0."""
    if minutes <= 0:
        raise BadValue(f"{minutes} minutes", "is no length", "give at least 1 minute")
    return day + timedelta(days=minute // MINUTES_A_DAY), minute % MINUTES_A_DAY


def minute_words(minute: int) -> str:
    """``HH:MM`` of minutes past midnight."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def date_words(day: date) -> str:
    """``Tue 9 Mar 2027``."""
    return f"{day:%a} {day.day} {day:%b %Y}"
