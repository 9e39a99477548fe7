"""Two networks are the same to the engine: order, and what equals its default, do not count."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.engine.network import (
    Appointment,
    Network,
    Request,
    Shift,
    Site,
    SiteChoice,
    Station,
    Technician,
    Window,
)
from planner.engine.units import DAY
from planner.gateway.record.store_places import merged


def engine_form(network: Network) -> dict[str, Any]:
    """The network's parts, with what the engine does not look at made alike."""
    return {
        "grain": network.grain,
        "first_day": network.first_day,
        "days": network.days,
        "policy": network.policy,
        "profiles": _by_id(replace(row, skills=_words(row.skills)) for row in network.profiles),
        "sites": _by_id(_site(row, network) for row in network.sites),
        "stations": _by_id(_station(row, network) for row in network.stations),
        "technicians": _by_id(_technician(row, network) for row in network.technicians),
        "requests": _by_id(_request(row, network) for row in network.requests),
        "care": _by_id(network.care),
        "appointments": _by_id(network.appointments),
        "reserve": tuple(
            sorted(
                (row for row in network.reserve if 0 <= row.day < network.days),
                key=lambda each: (each.site, each.day),
            )
        ),
    }


def _by_id(rows: Any) -> Any:
    return tuple(sorted(rows, key=lambda each: each.id))


def _words(words: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(sorted(set(words)))


def _inside(row: Any, network: Network) -> bool:
    return bool(row.start < network.days * DAY and row.end > 0)


def _site(row: Site, network: Network) -> Site:
    hours = sorted((w for w in row.open if _inside(w, network)), key=lambda each: each.start)
    return replace(row, open=tuple(hours))


def _station(row: Station, network: Network) -> Station:
    """Closed times that overlap are one closed time."""
    closed = tuple(each for each in merged(row.closed) if _inside(each, network))
    named = tuple(replace(each, why=each.why or "closed") for each in closed)
    return replace(row, features=_words(row.features), closed=named)


def _technician(row: Technician, network: Network) -> Technician:
    shifts = sorted((_shift(s) for s in row.shifts if _inside(s, network)), key=lambda s: s.start)
    return replace(row, skills=_words(row.skills), shifts=tuple(shifts))


def _shift(row: Shift) -> Shift:
    """A break lies inside its shift whatever its window says, and no break has no window."""
    if not row.break_minutes:
        return replace(row, break_start=row.start, break_end=row.end)
    return replace(
        row,
        break_start=max(row.start, row.break_start),
        break_end=min(row.end, row.break_end),
    )


def _request(row: Request, network: Network) -> Request:
    usual = network.policy.cost.unbooked
    longest: dict[int, int] = {}
    for window in row.available:
        longest[window.start] = max(longest.get(window.start, window.end), window.end)
    return replace(
        row,
        unbooked=None if row.unbooked == usual else row.unbooked,
        available=tuple(Window(start, end) for start, end in sorted(longest.items())),
        features=_words(row.features),
        skills=_words(row.skills),
    )


def holdable(network: Network) -> Network:
    """The network without what the record refuses: places of nobody's, times that collide."""
    everywhere = tuple(SiteChoice(site.id, 7) for site in network.sites)
    closed = {station.id: station.closed for station in network.stations}
    kept: list[Appointment] = []
    for row in network.appointments:
        end = row.start + row.minutes
        free = not any(
            {row.station, row.technician} & {each.station, each.technician}
            and each.start < end
            and row.start < each.start + each.minutes
            for each in kept
        ) and not any(each.start < end and row.start < each.end for each in closed[row.station])
        if free and 0 <= row.start < network.days * DAY:
            kept.append(row)
    return replace(
        network,
        requests=tuple(replace(row, sites=row.sites or everywhere) for row in network.requests),
        appointments=tuple(kept),
    )
