"""The tables of lengths that a run may work with."""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.network import Network
from planner.engine.sessions.planned import ROW, planned_minutes

ROWS = (ROW, 6, 4, 3)
"""Sessions in a row that keep the promises by length alone; with fewer, the schedule has to open up
sooner. A row of 2 was tried: it books fewer, since ends of shifts are then filled too boldly."""


@dataclass(frozen=True, slots=True)
class Table:
    """Planned ``minutes`` by profile id: the shortest that keep the promises in rows of ``row``."""

    row: int
    minutes: dict[str, int]


def length_tables(network: Network) -> list[Table]:
    """The tables worth trying, the longest lengths first; each differs from the one before."""
    tables: list[Table] = []
    for row in ROWS:
        minutes = {
            profile.id: planned_minutes(profile, network.policy, network.grain, row)
            for profile in network.profiles
        }
        if not tables or minutes != tables[-1].minutes:
            tables.append(Table(row, minutes))
    return tables
