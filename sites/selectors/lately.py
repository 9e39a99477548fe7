"""First-pass yields of the last weeks, over all, by site and by scanner.

Counted over the whole network, whoever asks: shares, never rows.
"""

from __future__ import annotations

from datetime import date, timedelta

from django.db.models import Count, Q, QuerySet

from sites.models import Response, ResponseKind
from sites.selectors.shares import Share, share
from sites.selectors.yields import first_answers

DAYS = 90
"""How far back; ours."""


def site_yields(*, today: date) -> tuple[Share, dict[int, Share]]:
    """First-pass yield over all sites, and by the key of the site."""
    return grouped(
        first_answers(Response.objects.all(), today - timedelta(days=DAYS), today),
        "submission__session__appointment__station__site",
    )


def scanner_yields(*, site: int, today: date) -> tuple[Share, dict[int, Share]]:
    """First-pass yield of one site's scanners together, and by the key of the scanner."""
    rows = first_answers(Response.objects.all(), today - timedelta(days=DAYS), today).filter(
        submission__session__appointment__station__site=site,
        submission__session__scanner__isnull=False,
    )
    return grouped(rows, "submission__session__scanner")


def grouped(rows: QuerySet[Response], key: str) -> tuple[Share, dict[int, Share]]:
    """Accepted shares by a column, and of all."""
    counts = (
        rows.order_by()
        .values_list(key)
        .annotate(n=Count("pk"), hits=Count("pk", filter=Q(kind=ResponseKind.ACCEPTED)))
    )
    found = {one: (hits, n) for one, n, hits in counts}
    hits, n = (sum(each[place] for each in found.values()) for place in (0, 1))
    return share(hits, n), {one: share(*each) for one, each in found.items()}
