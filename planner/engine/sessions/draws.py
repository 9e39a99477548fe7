"""Drawn lengths of bookings with common random numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.rng import stream
from planner.engine.sessions.length import SessionLength, session_length

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.engine.network import Profile
    from planner.engine.sessions.grid import Floats


class Draws:
    """``n`` drawn lengths for each booking.

    The uniforms behind them depend on seed, purpose and request alone, so a booking keeps its
    draws wherever it moves, and two plans of the same requests are compared on the same subjects.
    The first draws of a longer series are those of a shorter one.

    Parameters
    ----------
    profiles
        The network's profiles by id.
    seed, purpose
        Which random numbers; judges and planners use different purposes.
    n
        Draws for each booking, at least 1.
    keep
        Series kept for asking again; the oldest is dropped beyond that. 8 n bytes each.

    """

    def __init__(
        self, profiles: Mapping[str, Profile], seed: int, n: int, purpose: str, *, keep: int = 0
    ) -> None:
        self.n = n
        self._profiles = profiles
        self._seed = seed
        self._purpose = purpose
        self._keep = keep
        self._kept: dict[tuple[str, str], Floats] = {}
        self._lengths: dict[str, SessionLength] = {}

    def of(self, request_id: str, profile_id: str) -> Floats:
        """Lengths in minutes, shape (n,), a no-show as 0; not to be written to.

        Raises KeyError for a profile that does not exist.
        """
        kept = self._kept.get((request_id, profile_id))
        if kept is not None:
            return kept
        length = self._lengths.get(profile_id)
        if length is None:
            length = self._lengths[profile_id] = session_length(self._profiles[profile_id])
        minutes = length.draw(stream(self._seed, self._purpose, request_id).random(self.n))
        if self._keep:
            if len(self._kept) >= self._keep:
                del self._kept[next(iter(self._kept))]
            self._kept[request_id, profile_id] = minutes
        return minutes
