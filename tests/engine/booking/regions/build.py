"""Networks that lie beside each other: their things renamed and put into one network."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.network import Network


def beside(*parts: Network) -> Network:
    """One network of all; grain, horizon and policy are those of the first.

    Ids get the number of their part in front (``1:s0``), so that nothing is shared.
    """
    first = parts[0]
    named = [_named(part, k, first) for k, part in enumerate(parts)]
    profiles = {item.id: item for part in parts for item in part.profiles}
    return replace(
        first,
        profiles=tuple(profiles.values()),
        sites=tuple(item for part in named for item in part.sites),
        stations=tuple(item for part in named for item in part.stations),
        technicians=tuple(item for part in named for item in part.technicians),
        requests=tuple(item for part in named for item in part.requests),
        care=tuple(item for part in named for item in part.care),
        appointments=tuple(item for part in named for item in part.appointments),
        reserve=tuple(item for part in named for item in part.reserve),
    )


def _named(part: Network, number: int, first: Network) -> Network:
    def name(old: str) -> str:
        return f"{number}:{old}"

    return replace(
        part,
        grain=first.grain,
        days=first.days,
        policy=first.policy,
        sites=tuple(replace(item, id=name(item.id)) for item in part.sites),
        stations=tuple(
            replace(item, id=name(item.id), site=name(item.site)) for item in part.stations
        ),
        technicians=tuple(
            replace(
                item,
                id=name(item.id),
                shifts=tuple(replace(shift, site=name(shift.site)) for shift in item.shifts),
            )
            for item in part.technicians
        ),
        requests=tuple(
            replace(
                item,
                id=name(item.id),
                sites=tuple(replace(choice, site=name(choice.site)) for choice in item.sites),
            )
            for item in part.requests
        ),
        care=tuple(
            replace(item, id=name(item.id), station=name(item.station))
            for item in part.care
            if item.earliest < first.days
        ),
        appointments=tuple(
            replace(
                item,
                id=name(item.id),
                request=name(item.request),
                station=name(item.station),
                technician=name(item.technician),
            )
            for item in part.appointments
        ),
        reserve=tuple(replace(item, site=name(item.site)) for item in part.reserve),
    )
