"""Invented appointments that exist before planning begins, placed so that all can stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.network import Appointment

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import numpy as np

    from planner.engine.network import Profile, Request
    from planner.engine.scenario.board import Board

_TRIES = 12
_MARGIN = 20
"""Minutes kept free before the end of opening times and shifts, for sessions that run over."""


def make_appointments(
    board: Board,
    requests: Sequence[Request],
    profiles: Mapping[str, Profile],
    lengths: Mapping[str, int],
    *,
    count: int,
    days: int,
    rng: np.random.Generator,
) -> tuple[Appointment, ...]:
    """Appointments for at most ``count`` of the requests, every second one fixed.

    Requests that find no place within a few tries stay without. ``lengths`` are planned minutes
    by profile; ``days`` is the horizon.
    """
    found: list[Appointment] = []
    for index in rng.permutation(len(requests))[:count]:
        request = requests[int(index)]
        for _ in range(_TRIES):
            choice = request.sites[int(rng.integers(len(request.sites)))]
            day = int(rng.integers(max(request.release, 0), days))
            profile = profiles[choice.profile or request.profile]
            minutes = lengths[profile.id]
            place = _free_place(board, request, profile, (choice.site, day, minutes), rng)
            if place is not None:
                name, fixed = f"a{len(found) + 1:05d}", len(found) % 2 == 0
                found.append(Appointment(name, request.id, *place, minutes, fixed))
                break
    return tuple(found)


def _free_place(
    board: Board,
    request: Request,
    profile: Profile,
    where: tuple[str, int, int],
    rng: np.random.Generator,
) -> tuple[str, str, int] | None:
    """One random try at a station, a technician and a start that suit, taken on the board.

    ``where`` is (site, day, minutes).
    """
    site, day, minutes = where
    skills = {*request.skills, *profile.skills}
    desks = [s for s in board.stations[site] if set(request.features) <= set(s.features)]
    crew = [pair for pair in board.shifts[site, day] if skills <= set(pair[0].skills)]
    windows = board.windows(site, day)
    if not (desks and crew and windows):
        return None
    desk = desks[int(rng.integers(len(desks)))]
    technician, shift = crew[int(rng.integers(len(crew)))]
    window = windows[int(rng.integers(len(windows)))]
    first = max(window.start, shift.start)
    last = min(window.end, shift.end) - _MARGIN - minutes
    if last < first:
        return None
    start = int(rng.integers(first, last + 1))
    suits = not request.available or any(
        times.start <= start and start + minutes <= times.end for times in request.available
    )
    if suits and board.book(desk.id, technician.id, start, minutes):
        return desk.id, technician.id, start
    return None
