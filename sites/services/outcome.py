"""What became of many: what was done, and what was skipped and why."""

from __future__ import annotations

from dataclasses import dataclass, field

from sites.models import Request


@dataclass(slots=True)
class Outcome:
    """Requests that were changed, and those that were not with the reason of each."""

    done: list[Request] = field(default_factory=list)
    skipped: list[tuple[Request, str]] = field(default_factory=list)

    def skip(self, request: Request, why: str) -> None:
        """Leave a request as it is."""
        self.skipped.append((request, why))
