"""Dates, times and shares as a reader of the board meets them."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from math import isnan
from zoneinfo import ZoneInfo

from planner.engine.units import DAY

WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day_words(day: int, first_day: date) -> str:
    """``Tue 9 Mar``."""
    when = first_day + timedelta(days=day)
    return f"{WEEKDAYS[when.weekday()]} {when.day} {MONTHS[when.month - 1]}"


def day_words_long(day: int, first_day: date) -> str:
    """``Tue 9 Mar 2027``."""
    return f"{day_words(day, first_day)} {(first_day + timedelta(days=day)).year}"


def clock(minute: int, day: int) -> str:
    """``HH:MM`` of a minute on the clock that starts with ``day``; past midnight it runs on."""
    rest = minute - day * DAY
    return f"{rest // 60:02d}:{rest % 60:02d}"


def share(value: float, digits: int = 1) -> str:
    """A share as a percentage, ``8.3%``; ``-`` where it is not a number: nobody worked it out."""
    return "-" if isnan(value) else f"{value:.{digits}%}"


def zone_words(timezone: str, day: int, first_day: date) -> str:
    """A site's zone and its distance from UTC at noon of ``day``: ``Europe/Oslo, UTC+01:00``."""
    when = first_day + timedelta(days=day)
    offset = datetime(when.year, when.month, when.day, 12, tzinfo=ZoneInfo(timezone)).utcoffset()
    if offset is None:
        return timezone
    minutes = round(offset.total_seconds() / 60)
    sign = "-" if minutes < 0 else "+"
    return f"{timezone}, UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"


def code_words(code: str) -> str:
    """A reason's code as words: ``nobody_eligible`` reads *nobody eligible*."""
    return code.replace("_", " ").replace("-", " ")


def short_names(ids: list[str]) -> dict[str, str]:
    """Names without the words that all of them start with: ``mill-1``, ``mill-2`` read 1, 2."""
    common = 0
    if len(ids) > 1:
        for one, other in zip(min(ids), max(ids), strict=False):
            if one != other:
                break
            common += 1
    cut = max(ids[0].rfind(mark, 0, common) for mark in "-_ .:/") + 1 if ids else 0
    return {item: item[cut:] or item for item in ids}


def slugs(ids: list[str]) -> dict[str, str]:
    """A different file-name part for every id, made of its letters, digits and hyphens."""
    found: dict[str, str] = {}
    for place, item in enumerate(ids, start=1):
        slug = re.sub(r"[^a-z0-9]+", "-", item.lower()).strip("-")[:60]
        taken = slug in found.values()
        found[item] = f"{slug}-{place}" if taken or not slug else slug
        while list(found.values()).count(found[item]) > 1:
            found[item] += "-x"
    return found
