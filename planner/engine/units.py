"""Minutes, days and the text of dates and times.

Inside the engine a time is a whole number of minutes since 00:00 of the network's ``first_day`` on
the site's own wall clock, and a date a whole number of days since ``first_day``; both may be
negative. Wall-clock arithmetic is meant: a day has 1440 minutes, whatever a zone does that night.
"""

from __future__ import annotations

import re
from datetime import date, timedelta

DAY = 1440
NOON = 720

_DATE = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_TIME = re.compile(r"(\d{4}-\d{2}-\d{2})T([01]\d|2[0-3]):([0-5]\d)", re.ASCII)


def parse_date(text: str) -> date:
    """Read ``YYYY-MM-DD``. Raises ValueError where it is not written so or does not exist."""
    if not _DATE.fullmatch(text):
        raise ValueError(text)
    return date.fromisoformat(text)


def parse_day(text: str, first_day: date) -> int:
    """Days from ``first_day`` to the date in ``text``. Raises ValueError as `parse_date`."""
    return (parse_date(text) - first_day).days


def parse_minute(text: str, first_day: date) -> int:
    """Minutes from ``first_day`` 00:00 to ``YYYY-MM-DDTHH:MM``. Raises ValueError."""
    found = _TIME.fullmatch(text)
    if not found:
        raise ValueError(text)
    return parse_day(found[1], first_day) * DAY + int(found[2]) * 60 + int(found[3])


def day_text(day: int, first_day: date) -> str:
    """``YYYY-MM-DD`` of a day number."""
    return (first_day + timedelta(days=day)).isoformat()


def minute_text(minute: int, first_day: date) -> str:
    """``YYYY-MM-DDTHH:MM`` of a minute number."""
    day, rest = divmod(minute, DAY)
    return f"{day_text(day, first_day)}T{rest // 60:02d}:{rest % 60:02d}"


def told(start: int, grain: int) -> int:
    """The time a subject is told: ``start`` rounded down to ``grain`` minutes past midnight."""
    day, rest = divmod(start, DAY)
    return day * DAY + rest - rest % grain
