"""Keeping what a planning run found: what a minute is worth, and why requests were left out."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from sites.models import LeftOut, PlanRun, SitePrice
from sites.services.write import written

BATCH = 500
SAYS = ["run", "station_minute", "technician_minute", "further"]


@written
def findings_keep(
    *,
    run: PlanRun,
    prices: Iterable[SitePrice],
    left_out: Iterable[LeftOut],
    looked_at: Collection[int],
) -> None:
    """Put a run's findings in the place of earlier ones for the same days and requests.

    ``looked_at`` are the keys of all requests that the run planned: those that it booked are left
    out no more. Raises Busy.
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
    keys = sorted(looked_at)
    for start in range(0, len(keys), BATCH):
        LeftOut.objects.filter(request__in=keys[start : start + BATCH]).delete()
    out = sorted(left_out, key=lambda row: row.request_id)
    for one in out:
        one.run = run
    LeftOut.objects.bulk_create(out, batch_size=BATCH)
