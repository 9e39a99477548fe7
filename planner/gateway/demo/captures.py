"""The captures of a session: attempts, why they were taken again, scores, what was kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import accumulate

import numpy as np

from planner.engine.network import Profile
from planner.gateway.demo.story import CAUSES, DRIFT_CAUSES, ROLLED_ONLY
from sites.models.codes import FingerPosition, ImpressionType
from sites.services.programmes import NFIQ2_SCORES

PLAIN = (
    FingerPosition.PLAIN_RIGHT_FOUR,
    FingerPosition.PLAIN_LEFT_FOUR,
    FingerPosition.PLAIN_BOTH_THUMBS,
)
FLOORS = {
    hand + finger: score
    for hand in (0, 5)
    for finger, score in enumerate(NFIQ2_SCORES[ImpressionType.LIVE_ROLLED], 1)
}
BEST = 90
Attempt = tuple[int, int, int, int | None, str, float, bool]
"""Position, impression, number, score, cause, seconds, kept."""


class Dice:
    """Random numbers one at a time, drawn by the hundred thousand."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.uniform = self._uniforms().__next__

    def _uniforms(self) -> Iterator[float]:
        while True:
            yield from self.rng.random(100_000).tolist()

    def below(self, count: int) -> int:
        """A whole number from 0 up to, not including, ``count``."""
        return int(self.uniform() * count)

    def word(self, shares: dict[str, float]) -> str:
        """A key, by its share; the shares need not add up to 1."""
        mark = self.uniform() * sum(shares.values())
        for word, upto in zip(shares, accumulate(shares.values()), strict=True):
            if mark < upto:
                return word
        return next(reversed(shares))


@dataclass(slots=True)
class Taken:
    """A session's attempts, the positions that stayed short, and the seconds that all took."""

    attempts: list[Attempt] = field(default_factory=list)
    short: list[int] = field(default_factory=list)
    seconds: float = 0.0


PLAIN_CAUSES = {word: share for word, share in CAUSES.items() if word not in ROLLED_ONLY}


def take(
    profile: Profile, *, harder: float, drift: float, without: int | None, dice: Dice
) -> Taken:
    """Take every capture of a profile, retakes ``harder`` times ``drift`` times as likely.

    ``without`` is a missing finger. What the drift adds has causes of its own.
    """
    taken = Taken()
    for capture in profile.captures:
        rolled = capture.kind == "rolled"
        positions = range(1, 11) if rolled else PLAIN
        usual = min(0.9, capture.retake * harder)
        retake = min(0.9, usual * drift)
        kind = int(ImpressionType.LIVE_ROLLED if rolled else ImpressionType.LIVE_PLAIN)
        for position in positions:
            if position == without:
                continue
            one = int(position)
            tries: list[Attempt] = []
            for number in range(1, profile.max_attempts + 1):
                mark = dice.uniform()
                seconds = capture.seconds * (0.75 + 0.5 * dice.uniform())
                seconds += profile.remedy_seconds if number > 1 else 0.0
                taken.seconds += seconds
                good = mark >= retake
                cause = ""
                if not good:
                    added = mark >= usual
                    sound = CAUSES if rolled else PLAIN_CAUSES
                    cause = dice.word(DRIFT_CAUSES if added else sound)
                score = scored(one, good=good, dice=dice) if rolled else None
                tries.append((one, kind, number, score, cause, round(seconds, 1), good))
                if good:
                    break
            else:
                best = max(range(len(tries)), key=lambda index: tries[index][3] or 0)
                tries[best] = (*tries[best][:6], True)
                taken.short.append(one)
            taken.attempts += tries
    return taken


def scored(position: int, *, good: bool, dice: Dice) -> int:
    """An NFIQ 2 score on the right side of the position's threshold."""
    floor = FLOORS[position]
    return floor + dice.below(BEST - floor) if good else dice.below(floor)
