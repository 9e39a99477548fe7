"""How a run is asked for, watched and ended early."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Options:
    """What a run may spend, and from which seed.

    ``seconds`` is a wall-clock budget; ``effort`` a deterministic one (with one worker the same
    network, seed and effort give the same plan). Neither given means ``DEFAULT_SECONDS``.
    """

    seconds: float | None = None
    effort: int | None = None
    seed: int = 0
    workers: int = 1


DEFAULT_SECONDS = 30.0


@dataclass(frozen=True, slots=True)
class Progress:
    """One line of news: the stage, the best cost so far, the bound, and how many are booked."""

    stage: str
    cost: float | None
    bound: float | None
    gap: float | None
    booked: int | None
    detail: str
    seconds: float


class Watch(Protocol):
    """Who listens to a run and may end it."""

    def report(self, progress: Progress) -> None:
        """Hear one line of news."""

    def stopped(self) -> bool:
        """Whether the run should end now with the best plan so far."""


class Quiet:
    """A watch that hears nothing and lets the run go on."""

    def report(self, progress: Progress) -> None:
        """Drop the news."""

    def stopped(self) -> bool:
        """Never."""
        return False


class Interrupted(Exception):
    """The run was ended before there was a plan."""
