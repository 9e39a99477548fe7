"""What a plan found, into the record; and prices out of it, for who ranks free times."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from planner.engine.plan import Plan, Price
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.read import Reading
from sites.models import LeftOut, PlanRun, SitePrice
from sites.services.findings import findings_keep


def keep_findings(run: PlanRun, plan: Plan, reading: Reading, horizon: Horizon) -> None:
    """Keep what a plan says of its site-days, and of the requests that it left out."""
    names = {row.request for row in plan.bookings} | {row.request for row in plan.unbooked}
    findings_keep(
        run=run,
        looked_at=[reading.requests[name].pk for name in names if name in reading.requests],
        left_out=[
            LeftOut(
                request_id=reading.requests[each.request].pk,
                code=each.reasons[0].code,
                detail=each.reasons[0].detail[:500],
                remedy=each.reasons[0].remedy[:300],
            )
            for each in plan.unbooked
            if each.reasons and each.request in reading.requests
        ],
        prices=[
            SitePrice(
                site=reading.sites[each.site],
                day=horizon.calendar(each.day),
                part=each.part,
                # A solver's zero may be a hair below it.
                station_minute=max(0.0, each.station_minute),
                technician_minute=max(0.0, each.technician_minute),
                further={"skills": each.skilled, "features": each.featured},
            )
            for each in plan.prices
            if each.site in reading.sites
        ],
    )


def find_prices(horizon: Horizon) -> tuple[Price, ...]:
    """What the last runs found for the days of a horizon, at every site."""
    rows = SitePrice.objects.filter(
        day__gte=horizon.first_day, day__lt=horizon.first_day + timedelta(days=horizon.days)
    ).values_list("site__code", "day", "part", "station_minute", "technician_minute", "further")
    return tuple(
        Price(
            site,
            horizon.day(day),
            part,
            station,
            technician,
            _pairs(further.get("skills", [])),
            _pairs(further.get("features", [])),
        )
        for site, day, part, station, technician, further in rows.order_by(
            "site__code", "day", "part"
        )
    )


def _pairs(rows: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Words with their prices, as the engine keeps them."""
    return tuple((word, price) for word, price in rows)
