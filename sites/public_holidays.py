"""Public holidays of a country or a part of it, by the holidays package."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import holidays

from sites.errors import BadValue


def holidays_of(country: str, part: str, years: Iterable[int]) -> dict[date, str]:
    """Holidays by day; none without a country.

    ``country`` is an ISO 3166-1 code and ``part`` an ISO 3166-2 one, or nothing for the country as
    a whole. Raises BadValue where the package knows no holidays of them.
    """
    if not country:
        if part:
            raise BadValue(part, "is a part of no country", "name the country too, or neither")
        return {}
    try:
        return dict(holidays.country_holidays(country, subdiv=part or None, years=set(years)))
    except NotImplementedError:
        pass
    countries = holidays.list_supported_countries()
    if country not in countries:
        raise BadValue(
            country,
            "is no country whose public holidays are known",
            "use an ISO 3166-1 code such as AT; or leave it empty and close the site on each "
            "holiday by a closure",
        )
    parts = ", ".join(countries[country])
    raise BadValue(
        part,
        f"is no part of {country} whose public holidays are known",
        f"use one of {parts}; or leave it empty" if parts else "leave it empty",
    )
