"""Care that has a time, and times in which stations are down."""

from __future__ import annotations

from datetime import date

from django.db.models import Q, QuerySet

from sites.clock import Span
from sites.models import CareWindow, Downtime, Site, Station


def care_planned(*, site: Site, first: date, last: date) -> QuerySet[CareWindow]:
    """Open care of a site, with a time from ``first`` to ``last`` or none yet; timed care first."""
    open_care = CareWindow.objects.filter(station__site=site, outcome="")
    return (
        open_care.filter(Q(day__gte=first, day__lte=last) | Q(day__isnull=True, earliest__lte=last))
        .select_related("station", "technician")
        .order_by("starts_at", "earliest", "code")
    )


def downtimes_from(*, site: Site, first: date) -> QuerySet[Downtime]:
    """Times in which a station of the site is down, from a day on."""
    rows = Downtime.objects.filter(station__site=site, ends_at__date__gte=first)
    return rows.select_related("station").order_by("starts_at")


def care_in_span(*, station: Station, span: Span) -> list[CareWindow]:
    """Care that a plan placed on a station in a time; fixed care is not in it."""
    return list(
        CareWindow.objects.filter(
            station=station,
            fixed=False,
            outcome="",
            starts_at__lt=span["ends_at"],
            ends_at__gt=span["starts_at"],
        ).order_by("starts_at")
    )
