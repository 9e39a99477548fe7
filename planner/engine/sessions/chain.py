"""The rule of the day without drawing: exact along a single chain of things."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.sessions import grid
from planner.engine.sessions.length import SessionLength, session_length

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.engine.network import Profile
    from planner.engine.sessions.grid import Floats
    from planner.engine.sessions.things import Thing


@dataclass(frozen=True, slots=True, eq=False)
class Delay:
    """How long after its own time a thing begins: ``pmf[i]`` = P(i · step minutes).

    ``smooth`` as in `SessionLength`.
    """

    step: float
    smooth: bool
    pmf: Floats

    def over(self, minutes: int) -> float:
        """P(it begins more than ``minutes`` after its own time)."""
        return grid.beyond(self.pmf, round(minutes / self.step), self.smooth)

    @property
    def mean(self) -> float:
        """Its mean in minutes."""
        return float(self.pmf @ np.arange(len(self.pmf))) * self.step


def chain_wait_exact(things: Sequence[Thing], profiles: Mapping[str, Profile]) -> list[Delay]:
    """The delay of each thing of a chain, by convolution: the check on `run_day`.

    Every thing shares its station or its technician with the one before, so that it begins at the
    later of its own time and the end of the one before, whatever else they share. A fixed time
    that follows a beginning on time is taken as if it had a density in `Delay.over` where drawn
    lengths come before it.

    Raises ValueError where two things in a row share neither.
    """
    lengths = {key: session_length(profiles[key]) for key in {t.profile for t in things} - {""}}
    seconds = math.gcd(60, *(round(length.step * 60) for length in lengths.values()))
    delay, smooth, delays = np.ones(1), False, []
    for index, thing in enumerate(things):
        if index:
            before = things[index - 1]
            if not _linked(before, thing):
                raise ValueError(
                    f"thing {index} shares no station or technician with the one before"
                )
            done = grid.convolve(delay, _minutes(before, lengths, seconds))
            delay = grid.after(done, (thing.own - before.own) * 60 // seconds)
            smooth = smooth or (before.key != "" and lengths[before.profile].smooth)
        delays.append(Delay(seconds / 60, smooth, delay))
    return delays


def _linked(a: Thing, b: Thing) -> bool:
    return a.station == b.station >= 0 or a.technician == b.technician >= 0


def _minutes(thing: Thing, lengths: Mapping[str, SessionLength], seconds: int) -> Floats:
    """The distribution of a thing's minutes on a grid of ``seconds``."""
    if not thing.key:
        fixed = np.zeros(thing.minutes * 60 // seconds + 1)
        fixed[-1] = 1.0
        return fixed
    length = lengths[thing.profile]
    stride = round(length.step * 60) // seconds
    spaced = np.zeros((len(length.booked_pmf) - 1) * stride + 1)
    spaced[::stride] = length.booked_pmf
    return spaced
