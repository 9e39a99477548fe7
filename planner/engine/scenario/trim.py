"""Leave and part-time: shifts are taken away until capacity is what was asked for."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.engine.rng import stream
from planner.engine.scenario.capacity import SiteDayKey, site_day
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.engine.network import Shift, Station, Window
    from planner.engine.scenario.crew import Draft

_COARSE = 300
"""Minutes above the target from which whole shifts go; below it, ends of shifts."""
_STEP = 5
_LEAST = 240


class _Ledger:
    """Effective minutes per site and day, kept up to date as shifts change."""

    def __init__(
        self,
        opening: dict[str, dict[int, list[Window]]],
        stations: Sequence[Station],
        crew: Sequence[Draft],
        care: dict[SiteDayKey, tuple[float, float]],
    ) -> None:
        self._opening, self._care = opening, care
        self._stations: dict[str, list[Station]] = defaultdict(list)
        for station in stations:
            self._stations[station.site].append(station)
        self.shifts: dict[SiteDayKey, list[Shift]] = defaultdict(list)
        for draft in crew:
            for shift in draft.shifts:
                self.shifts[shift.site, shift.start // DAY].append(shift)
        self._minutes = {key: self._effective(key, list(self.shifts[key])) for key in self.shifts}

    def total(self) -> float:
        return sum(self._minutes.values())

    def _effective(self, key: SiteDayKey, shifts: list[Shift]) -> float:
        site, day = key
        opening, stations = self._opening[site].get(day, []), self._stations[site]
        care = self._care.get(key, (0.0, 0.0))
        return site_day(day, opening, stations, shifts, care).effective

    def change(self, old: Shift, new: Shift | None) -> float:
        """Put ``new`` in the place of ``old``; the minutes lost."""
        key = (old.site, old.start // DAY)
        self.shifts[key].remove(old)
        if new is not None:
            self.shifts[key].append(new)
        before, self._minutes[key] = self._minutes[key], self._effective(key, self.shifts[key])
        return before - self._minutes[key]


def trim(
    crew: Sequence[Draft],
    target: float,
    opening: dict[str, dict[int, list[Window]]],
    stations: Sequence[Station],
    care: dict[SiteDayKey, tuple[float, float]],
    *,
    seed: int,
) -> float:
    """Take shifts from ``crew`` (in place) until capacity is ``target`` minutes; what is reached.

    No site and day loses its last technician. What is reached is below the target where the crew
    did not have so much to begin with, and above it only where nothing more can go.
    """
    rng = stream(seed, "leave")
    ledger = _Ledger(opening, stations, crew, care)
    excess = ledger.total() - target
    worked = [(draft, shift) for draft in crew for shift in draft.shifts]
    for index in rng.permutation(len(worked)):
        if excess < _COARSE:
            break
        draft, shift = worked[index]
        if len(ledger.shifts[shift.site, shift.start // DAY]) > 1:
            draft.shifts.remove(shift)
            excess -= ledger.change(shift, None)
    remaining = [(draft, shift) for draft in crew for shift in draft.shifts]
    for index in rng.permutation(len(remaining)):
        if excess < _STEP:
            break
        draft, shift = remaining[index]
        shorter = _cut(shift, excess)
        if shorter is not None:
            draft.shifts[draft.shifts.index(shift)] = shorter
            excess -= ledger.change(shift, shorter)
    return ledger.total()


def _cut(shift: Shift, excess: float) -> Shift | None:
    """The shift ended earlier by ``excess``, at least `_LEAST` long with its break; or None."""
    floor = max(shift.start + _LEAST, shift.break_end if shift.break_minutes else 0)
    end = max(floor, shift.end - int(excess) // _STEP * _STEP)
    if end >= shift.end:
        return None
    if shift.break_minutes:
        return replace(shift, end=end)
    return replace(shift, end=end, break_end=end)
