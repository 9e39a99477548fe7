"""Invented stations: features, closed times, and the scanner care that a planner has to place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.network import Care, Closure, Station
from planner.engine.rng import stream
from planner.engine.scenario.capacity import opening_by_day, station_is_open
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np

    from planner.engine.network import Window
    from planner.engine.scenario.places import Place

FEATURES = ("accessible", "step_free", "adjustable_height", "quiet_room")
_OFFERED = (0.5, 0.4, 0.3, 0.2)
"""P(station has the feature); a site's first station has the first two in any case."""
_CARE_EVERY = 5
"""Calendar days between the windows of a station's flexible care."""


def make_stations(places: Sequence[Place], days: int, seed: int) -> tuple[Station, ...]:
    """The stations of all sites with their closed times."""
    rng = stream(seed, "stations")
    return tuple(
        Station(
            f"{place.site.id}-{number}",
            place.site.id,
            tuple(
                word
                for word, share in zip(FEATURES, _OFFERED, strict=True)
                if rng.random() < share or (number == 1 and word in FEATURES[:2])
            ),
            _closures(place, days, rng),
        )
        for place in places
        for number in range(1, place.stations + 1)
    )


def _closures(place: Place, days: int, rng: np.random.Generator) -> tuple[Closure, ...]:
    """A fixed calibration window on one weekday or daily, and now and then a longer closure."""
    opening = opening_by_day(place.site)
    daily, weekday, at_end = rng.random() < 0.2, int(rng.integers(5)), rng.random() < 0.4
    minutes = 15 if daily else 25
    found = []
    for day, windows in opening.items():
        if daily or day % 7 == weekday:
            start = windows[-1].end - minutes if at_end else windows[0].start
            found.append(Closure(start, start + minutes, "calibration"))
    if opening and place.stations > 1 and rng.random() < 0.004 * days:
        first = int(rng.choice(list(opening)))
        length = int(rng.integers(1, 3))
        span = Closure(first * DAY, (first + length) * DAY, "scanner away for repair")
        found = [c for c in found if c.end <= span.start or c.start >= span.end] + [span]
    if opening and rng.random() < 0.006 * days:
        day = int(rng.choice(list(opening)))
        start = opening[day][0].end - 120
        found = [c for c in found if c.start // DAY != day]
        if not any(c.start < start + 90 and start < c.end for c in found):
            found.append(Closure(start, start + 90, "room in use"))
    return tuple(sorted(found, key=lambda closure: closure.start))


def make_care(
    stations: Sequence[Station],
    opening: dict[str, dict[int, list[Window]]],
    days: int,
    seed: int,
) -> tuple[Care, ...]:
    """Flexible care: 20 to 40 minutes in a window of 2 to 5 days, again and again per station.

    Two in five need a technician. A window starts on a day on which its station is open.
    """
    rng = stream(seed, "care")
    found: list[Care] = []
    for station in stations:
        by_day = opening[station.site]
        can = [day for day in range(days) if station_is_open(station, day, by_day.get(day, []))]
        for wished in range(int(rng.integers(3)), days, _CARE_EVERY):
            earliest = next((day for day in can if wished <= day < wished + 3), None)
            if earliest is None:
                continue
            latest = min(earliest + int(rng.integers(1, 5)), days - 1)
            minutes = 5 * int(rng.integers(4, 9))
            needed = bool(rng.random() < 0.4)
            name = f"care-{len(found) + 1:05d}"
            found.append(Care(name, station.id, minutes, earliest, latest, needed))
    return tuple(found)
