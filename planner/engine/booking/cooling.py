"""How much of the price counts while the search goes on: less and less, and again from the start.

Where everybody is nearly content a search stands still in moments; what is left of the budget goes
into further rounds, each from the best draft, with some of the price counting again.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from planner.engine.booking.budget import Budget

FIRST_SHARE = 0.6
"""The share of the price that counts at the start of a round."""
PLAIN_FROM = 0.9
"""The part of a round after which cost alone counts."""
SWEEPS = 10
"""A round has at least so many sweeps, by what the second one takes."""
ROUNDS = 6
"""Rounds at most."""


@dataclass(slots=True)
class Cooling:
    """Rounds of cooling until a part of the budget is spent."""

    budget: Budget
    until: float
    rounds: int = 1
    number: int = 0
    _began: float = field(init=False)
    _skipped: float = 0.0
    _sweeps: int = 0
    _before: float = 0.0

    def __post_init__(self) -> None:
        self._began = self.budget.spent()

    def swept(self) -> None:
        """Tell that a sweep has ended; the second, as the first is longer, says how many rounds."""
        now = self.budget.spent()
        self._sweeps += 1
        took, self._before = now - self._before, now
        if self._sweeps == 2 and took > 0:
            fits = int((self.until - self._began) / (took * SWEEPS))
            self.rounds = max(1, min(ROUNDS, fits))

    def share(self) -> float:
        """The share of the price that counts now."""
        part = self._part() - self.number
        return FIRST_SHARE * max(0.0, 1 - part / PLAIN_FROM)

    def turns(self) -> bool:
        """Whether another round begins; asked once a sweep."""
        number = min(int(self._part()), self.rounds - 1)
        begins, self.number = number > self.number, number
        return begins

    def skip(self) -> bool:
        """Let the next round begin now; False where there is none."""
        if self.number + 1 >= self.rounds:
            return False
        self._skipped += self.number + 1 - self._part()
        return True

    def _part(self) -> float:
        whole = self.until - self._began
        if whole <= 0:
            return self.rounds
        return self.rounds * (self.budget.spent() - self._began) / whole + self._skipped
