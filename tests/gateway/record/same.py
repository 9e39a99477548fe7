"""Two networks are the same to the engine: order, and what equals its default, do not count."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from planner.engine.network import Network, Request, Shift, Site, Station, Technician, Window
from planner.engine.units import DAY
from planner.gateway.record.store_places import merged


def engine_form(network: Network) -> Network:
    """The network with what the engine does not look at made alike."""
    return replace(
        network,
        profiles=_by_id(replace(row, skills=_words(row.skills)) for row in network.profiles),
        sites=_by_id(_site(row, network) for row in network.sites),
        stations=_by_id(_station(row, network) for row in network.stations),
        technicians=_by_id(_technician(row, network) for row in network.technicians),
        requests=_by_id(_request(row, network) for row in network.requests),
        care=_by_id(network.care),
        appointments=_by_id(network.appointments),
        reserve=tuple(
            sorted(
                (row for row in network.reserve if 0 <= row.day < network.days),
                key=lambda each: (each.site, each.day),
            )
        ),
    )


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
