"""The program's duals as prices: what one more minute would save, by site, day and part."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.capacity import Capacity
from planner.engine.booking.allocate.rows import PARTS
from planner.engine.booking.problem import Problem
from planner.engine.plan import Price

DIGITS = 6


def prices_of(
    problem: Problem, capacity: Capacity, values: NDArray[np.float64]
) -> tuple[Price, ...]:
    """One record a site-day and part, also where every price is 0.

    The price of a class of several words (asked together) is listed under the words joined by
    ``+``. What a minute of both at once is worth goes to the one that is scarcer, in the share of
    the staffed minutes in which it is (to technicians where the two are alike). A reserve's price
    is no price of a minute, and that of a span of hours is paid by those alone who can come then:
    neither is listed.
    """
    found: dict[tuple[int, int], tuple[list[float], dict[str, float], dict[str, float]]] = {}
    for siteday in problem.sitedays:
        for part in range(len(PARTS)):
            found[siteday.index, part] = ([0.0, 0.0], {}, {})
    for row, value in zip(capacity.rows, values, strict=True):
        if row.kind in {"reserve", "window"}:
            continue
        plain, skilled, featured = found[row.siteday, row.part]
        if row.kind == "joint":
            plain[0] += float(value) * row.stations
            plain[1] += float(value) * (1.0 - row.stations)
            continue
        kind = int(row.kind == "technician")
        price = float(value)
        if row.need == 0:
            plain[kind] += price
        elif price > 10.0**-DIGITS:
            words = (problem.needs.skills if kind else problem.needs.features)[row.need]
            (skilled if kind else featured)["+".join(sorted(words))] = round(price, DIGITS)
    return tuple(
        Price(
            site=problem.network.sites[problem.sitedays[g].site].id,
            day=problem.sitedays[g].day,
            part=PARTS[part],
            station_minute=round(plain[0], DIGITS),
            technician_minute=round(plain[1], DIGITS),
            skilled=tuple(sorted(skilled.items())),
            featured=tuple(sorted(featured.items())),
        )
        for (g, part), (plain, skilled, featured) in found.items()
    )
