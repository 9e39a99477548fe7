"""Minutes from a home area to a site."""

from __future__ import annotations

from math import asin, ceil, cos, radians, sin, sqrt

from django.conf import settings

from sites.models import HomeArea, Site

EARTH_KM = 6371.0088  # mean radius, IUGG


def great_circle_km(from_: tuple[float, float], to: tuple[float, float]) -> float:
    """Kilometres between two points (latitude, longitude in degrees) on a sphere: haversine."""
    (lat1, lon1), (lat2, lon2) = ((radians(a), radians(b)) for a, b in (from_, to))
    h = sin((lat2 - lat1) / 2) ** 2 + cos(lat1) * cos(lat2) * sin((lon2 - lon1) / 2) ** 2
    return 2 * EARTH_KM * asin(min(1.0, sqrt(h)))


def travel_minutes(
    *, area: HomeArea, site: Site, given: dict[tuple[int, int], int] | None = None
) -> int | None:
    """Minutes from an area to a site: ``given`` by (area, site) where it has them, else estimated.

    The estimate is the great circle times ``TRAVEL_DETOUR`` at ``TRAVEL_KMH``, rounded up; None
    where a coordinate is missing.
    """
    if given and (area.pk, site.pk) in given:
        return given[area.pk, site.pk]
    if area.latitude is None or area.longitude is None:
        return None
    if site.latitude is None or site.longitude is None:
        return None
    km = great_circle_km((area.latitude, area.longitude), (site.latitude, site.longitude))
    minutes: float = km * settings.TRAVEL_DETOUR / settings.TRAVEL_KMH * 60
    return ceil(minutes)
