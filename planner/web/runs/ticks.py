"""Which lines of a run somebody has unticked: kept in their session until they decide.

All changes are ticked to begin with; only what was unticked is kept, since that is little.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from hashlib import sha256
from typing import Any

from planner.gateway.review.lines import CHANGES, Line
from sites.models import PlanRun

KEY = "unticked"
RUNS = 5
"""Runs whose ticks a session remembers; the oldest is forgotten."""


class Ticks:
    """The ticks of one person on one run."""

    def __init__(self, session: Any, run: PlanRun) -> None:
        self._session = session
        self._name = f"{run.pk}:{run.plan_digest[:16]}"
        self.off = set(session.get(KEY, {}).get(self._name, ()))

    def set(self, shown: Iterable[str], on: Collection[str]) -> None:
        """Take note of the ticks of some lines: those ``on``, and those shown that are not."""
        for name in shown:
            if name in on:
                self.off.discard(name)
            else:
                self.off.add(name)
        kept: dict[str, list[str]] = self._session.get(KEY, {})
        kept.pop(self._name, None)
        kept = dict([*kept.items(), (self._name, sorted(self.off))][-RUNS:])
        self._session[KEY] = kept

    def forget(self) -> None:
        """The run is decided."""
        kept = dict(self._session.get(KEY, {}))
        if kept.pop(self._name, None) is not None:
            self._session[KEY] = kept

    def on(self, lines: Iterable[Line]) -> list[Line]:
        """The changes that are ticked."""
        return [line for line in lines if line.kind in CHANGES and line.request not in self.off]

    def seen(self) -> str:
        """A digest of what is unticked: a decision is taken on what was shown."""
        return sha256("\n".join(sorted(self.off)).encode()).hexdigest()[:16]
