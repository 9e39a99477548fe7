"""What a check says."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Finding:
    """``where`` names the row, ``problem`` says what is off there, ``remedy`` what to do."""

    where: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.where}: {self.problem}; {self.remedy}"


Check = Callable[[], Iterator[Finding]]
