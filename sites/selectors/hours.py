"""When a site is open: weekly hours, special hours, public holidays, closures."""

from __future__ import annotations

from datetime import date, timedelta

from sites.clock import MINUTES_A_DAY
from sites.errors import BadValue
from sites.models import Site
from sites.public_holidays import holidays_of

Windows = list[tuple[int, int]]


def public_holidays(site: Site, first_day: date, days: int) -> dict[date, str]:
    """The site's public holidays in a horizon; none without a country.

    Raises BadValue, which names the site, where no holidays of its country or part are known: a day
    that is taken for an open one by mistake would be booked.
    """
    last = first_day + timedelta(days=days - 1)
    years = range(first_day.year, last.year + 1)
    try:
        found = holidays_of(site.holiday_country, site.holiday_subdivision, years)
    except BadValue as error:
        raise BadValue(
            f"public holidays of site {site.code}",
            f"{error.value!r} {error.problem}",
            f"{error.remedy} (Set-up, Sites)",
        ) from None
    return {day: name for day, name in found.items() if first_day <= day <= last}


def open_windows(*, site: Site, first_day: date, days: int) -> dict[date, Windows]:
    """Open times of each day, as ``[from, to)`` in minutes past midnight, in order.

    Special hours replace the weekly ones and stand on public holidays too; closures cut whatever is
    left. Prefetch ``hours``, ``special_hours`` and ``closures`` to ask for many sites at once.
    Raises BadValue where the site's public holidays are not known.
    """
    special: dict[date, Windows] = {}
    for row in site.special_hours.all():
        special.setdefault(row.day, []).append((row.opens, row.closes))
    weekly = list(site.hours.all())
    off = public_holidays(site, first_day, days)
    closures = [(row.day, row.minute, row.minutes) for row in site.closures.all()]
    result = {}
    for offset in range(days):
        day = first_day + timedelta(days=offset)
        if day in special:
            windows = special[day]
        elif day in off:
            windows = []
        else:
            windows = [
                (row.opens, row.closes)
                for row in weekly
                if row.weekday == day.weekday()
                and (row.starts_on is None or row.starts_on <= day)
                and (row.ends_on is None or day < row.ends_on)
            ]
        for closed_on, minute, minutes in closures:
            start = (closed_on - day).days * MINUTES_A_DAY + minute
            windows = without(windows, start, start + minutes)
        result[day] = sorted(windows)
    return result


def without(windows: Windows, start: int, end: int) -> Windows:
    """The windows less ``[start, end)``."""
    left: Windows = []
    for opens, closes in windows:
        left += [(opens, min(closes, start))] if opens < start else []
        left += [(max(opens, end), closes)] if closes > end else []
    return [(opens, closes) for opens, closes in left if closes > opens]
