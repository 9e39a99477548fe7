"""Prices of a plan into the record, and out of it for who ranks free times."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta

from planner.engine.plan import Plan, Price
from planner.gateway.record.horizon import Horizon
from planner.gateway.record.read import Reading
from sites.models import PlanRun, SitePrice
from sites.services.prices import prices_keep


def keep_prices(run: PlanRun, plan: Plan, reading: Reading, horizon: Horizon) -> None:
    """Keep what a plan says of its site-days."""
    prices_keep(
        run=run,
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
