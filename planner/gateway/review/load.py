"""How full each site's day would be under a plan."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.board.book import open_book
from planner.gateway.board.room import Load, load_of

SHADES = 5


@dataclass(frozen=True, slots=True)
class Cell:
    """A site's day: bookings, planned and free minutes, and a shade from 0 (empty) to 5 (full)."""

    day: date
    load: Load

    @property
    def shade(self) -> int:
        """How dark, beside the figure."""
        return 0 if self.load.used is None else min(SHADES, int(self.load.used * SHADES))

    @property
    def percent(self) -> str:
        """Planned minutes as a share of the room, in words where there is none."""
        return "no room" if self.load.used is None else f"{self.load.used:.0%}"


@dataclass(frozen=True, slots=True)
class Row:
    """A site over the days of the plan."""

    site: str
    name: str
    zone: str
    cells: tuple[Cell, ...]


def loads_of(network: Network, plan: Plan) -> tuple[Row, ...]:
    """A row for each site, a cell for each day."""
    book = open_book(network, plan)
    days = [(day, network.first_day + timedelta(days=day)) for day in range(network.days)]
    return tuple(
        Row(
            site.id,
            site.name,
            site.timezone,
            tuple(Cell(when, load_of(book, site.id, day)) for day, when in days),
        )
        for site in network.sites
    )
