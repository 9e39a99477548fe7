"""Invented technicians: a seat per station or a little less, part-timers, some who travel."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from planner.engine.network import Shift, Technician
from planner.engine.rng import stream
from planner.engine.scenario.capacity import opening_by_day
from planner.engine.scenario.names import technician_id
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from planner.engine.network import Window
    from planner.engine.scenario.places import Place

SKILLS = ("difficult_capture", "second_language", "minors")
_HELD = (0.45, 0.3, 0.15)
_FULL = 510
_SHORT = 300
_BREAK = 30
_BREAK_WINDOW = (690, 810)
_LATE_BREAK_WINDOW = (870, 990)
_SITES_SHORT = 0.4
"""Share of the sites of two and more stations that have one seat fewer than stations."""


@dataclass
class Draft:
    """A technician whose shifts may still be taken away or cut."""

    id: str
    skills: tuple[str, ...]
    shifts: list[Shift] = field(default_factory=list)

    def technician(self) -> Technician:
        """The finished technician."""
        return Technician(self.id, self.skills, tuple(self.shifts))


def shift_in(
    site: str, windows: Sequence[Window], *, late: bool, short: bool, leave_at: int | None = None
) -> Shift:
    """A shift on the day of ``windows``, at the beginning or the end of the opening times.

    A full shift has a break around noon, or in the afternoon where it begins after 11:00; a short
    one has none.
    """
    first, last = windows[0].start, windows[-1].end
    length = min(_SHORT if short else _FULL, last - first)
    start, end = (last - length, last) if late else (first, first + length)
    end = end if leave_at is None else min(end, leave_at)
    if short:
        return Shift(site, start, end, 0, start, end)
    midnight = start // DAY * DAY
    window = _BREAK_WINDOW if start - midnight < 660 else _LATE_BREAK_WINDOW
    return Shift(site, start, end, _BREAK, midnight + window[0], midnight + window[1])


def make_crew(places: Sequence[Place], seed: int) -> list[Draft]:
    """Technicians with the shifts that they would work if nobody were ever away."""
    rng = stream(seed, "crew")
    opening = {place.site.id: opening_by_day(place.site) for place in places}
    short_of = [p for p in places if p.stations > 1 and rng.random() < _SITES_SHORT]
    crew: list[Draft] = []
    for place in places:
        for seat in range(place.stations - (place in short_of)):
            draft = Draft(technician_id(len(crew) + 1, rng), _skills(rng, certain=seat == 0))
            _work_at(draft, place.site.id, opening[place.site.id], seat, rng)
            crew.append(draft)
    for tour in _tours(short_of):
        draft = Draft(technician_id(len(crew) + 1, rng), _skills(rng, certain=True))
        _travel(draft, tour, opening, rng)
        crew.append(draft)
    return crew


def _skills(rng: np.random.Generator, *, certain: bool) -> tuple[str, ...]:
    return tuple(
        word
        for word, share in zip(SKILLS, _HELD, strict=True)
        if rng.random() < share or (certain and word == SKILLS[0])
    )


def _work_at(
    draft: Draft, site: str, days: dict[int, list[Window]], seat: int, rng: np.random.Generator
) -> None:
    """Shifts at one site; one technician in six works short days or a four-day week."""
    part_time = seat > 0 and rng.random() < 0.17
    short, off = rng.random() < 0.5, int(rng.integers(5))
    late = seat % 2 == 1
    for day, windows in days.items():
        if part_time and not short and day % 7 == off:
            continue
        draft.shifts.append(shift_in(site, windows, late=late, short=part_time and short))


def _tours(short_of: Sequence[Place]) -> list[list[Place]]:
    """Sites that lack a seat, in pairs of neighbours of one region and time zone."""
    left = list(short_of)
    tours = []
    while left:
        home = left.pop(0)
        near = [
            p for p in left if p.region == home.region and p.site.timezone == home.site.timezone
        ]
        near.sort(key=lambda p: (p.x - home.x) ** 2 + (p.y - home.y) ** 2)
        if near:
            left.remove(near[0])
        tours.append([home, *near[:1]])
    return tours


def _travel(
    draft: Draft,
    tour: Sequence[Place],
    opening: dict[str, dict[int, list[Window]]],
    rng: np.random.Generator,
) -> None:
    """One day here, another there: the weekday says where."""
    first = int(rng.integers(len(tour)))
    for day in sorted(set().union(*(opening[place.site.id] for place in tour))):
        site = tour[(first + day % 7) % len(tour)].site.id
        if day in opening[site]:
            draft.shifts.append(shift_in(site, opening[site][day], late=True, short=False))
