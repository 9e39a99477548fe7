"""Keeping what a planning run found a minute to be worth."""

from __future__ import annotations

from collections.abc import Iterable

from sites.models import PlanRun, SitePrice
from sites.services.write import written

BATCH = 500
SAYS = ["run", "station_minute", "technician_minute", "further"]


@written
def prices_keep(*, run: PlanRun, prices: Iterable[SitePrice]) -> int:
    """Put a run's prices in the place of what earlier runs found for the same days; how many.

    Raises Busy.
    """
    rows = sorted(prices, key=lambda row: (row.site_id, row.day, row.part))
    for row in rows:
        row.run = run
    SitePrice.objects.bulk_create(
        rows,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=["site", "day", "part"],
        update_fields=SAYS,
    )
    return len(rows)
