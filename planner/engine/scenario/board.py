"""A witness: one way to place breaks, care and appointments, so that a network is possible."""

from __future__ import annotations

from bisect import bisect_left, insort
from collections import defaultdict
from typing import TYPE_CHECKING

from planner.engine.scenario.capacity import opening_by_day
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy as np

    from planner.engine.network import Care, Shift, Site, Station, Technician, Window

_STEP = 5


class Board:
    """Who and what is taken when. A thing is named by (kind, id), so that ids may meet."""

    def __init__(
        self, sites: Iterable[Site], stations: Sequence[Station], crew: Sequence[Technician]
    ) -> None:
        self.opening = {site.id: opening_by_day(site) for site in sites}
        self.stations: dict[str, list[Station]] = defaultdict(list)
        self.site_of = {station.id: station.site for station in stations}
        self.shifts: dict[tuple[str, int], list[tuple[Technician, Shift]]] = defaultdict(list)
        self._taken: dict[tuple[str, str], list[tuple[int, int]]] = defaultdict(list)
        for station in stations:
            self.stations[station.site].append(station)
            for closure in station.closed:
                self._take("station", station.id, closure.start, closure.end)
        for technician in crew:
            for shift in technician.shifts:
                self.shifts[shift.site, shift.start // DAY].append((technician, shift))

    def _take(self, kind: str, name: str, start: int, end: int) -> None:
        insort(self._taken[kind, name], (start, end))

    def _free(self, kind: str, name: str, start: int, end: int) -> bool:
        taken = self._taken[kind, name]
        at = bisect_left(taken, (end, end))
        return at == 0 or taken[at - 1][1] <= start

    def windows(self, site: str, day: int) -> list[Window]:
        """Opening times of the site on the day."""
        return self.opening[site].get(day, [])

    def place_breaks(self, rng: np.random.Generator) -> None:
        """Give every shift a break where it takes the least opening time, otherwise at random."""
        for (site, day), pairs in self.shifts.items():
            windows = self.windows(site, day)
            for technician, shift in pairs:
                if not shift.break_minutes:
                    continue
                first = max(shift.start, shift.break_start)
                last = min(shift.end, shift.break_end) - shift.break_minutes
                starts = range(first, last + 1, _STEP)
                costs = [_overlap(start, shift.break_minutes, windows) for start in starts]
                best = [s for s, cost in zip(starts, costs, strict=True) if cost == min(costs)]
                start = int(rng.choice(best))
                self._take("technician", technician.id, start, start + shift.break_minutes)

    def place_care(self, care: Care, rng: np.random.Generator) -> bool:
        """Place care on some day of its window; False where there is no room for it."""
        site = self.site_of[care.station]
        for day in rng.permutation(range(care.earliest, care.latest + 1)):
            for window in self.windows(site, int(day)):
                for start in range(window.start, window.end - care.minutes + 1, _STEP):
                    if self._care_fits(care, site, start):
                        return True
        return False

    def _care_fits(self, care: Care, site: str, start: int) -> bool:
        end = start + care.minutes
        if not self._free("station", care.station, start, end):
            return False
        if care.technician:
            for technician, shift in self.shifts[site, start // DAY]:
                within = shift.start <= start and end <= shift.end
                if within and self._free("technician", technician.id, start, end):
                    self._take("technician", technician.id, start, end)
                    break
            else:
                return False
        self._take("station", care.station, start, end)
        return True

    def book(self, station: str, technician: str, start: int, minutes: int) -> bool:
        """Take a station and a technician for a session; False where one is not free."""
        end = start + minutes
        free = self._free("station", station, start, end)
        if not (free and self._free("technician", technician, start, end)):
            return False
        self._take("station", station, start, end)
        self._take("technician", technician, start, end)
        return True


def _overlap(start: int, minutes: int, windows: Sequence[Window]) -> int:
    end = start + minutes
    return sum(max(0, min(end, window.end) - max(start, window.start)) for window in windows)
