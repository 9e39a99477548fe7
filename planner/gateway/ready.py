"""Compiling once, before the first plan, so that the time asked for goes into planning."""

from __future__ import annotations

from collections.abc import Callable

from planner.engine.booking import Options, Progress, Watch, plan
from planner.engine.compiled import is_ready, set_ready
from planner.engine.scenario.generate import generate
from planner.engine.scenario.sizes import Size

CROWDED = Size(requests=150, sites=2, days=2)
"""Small, and with full days: planning it comes by everything that is compiled."""


class _Hushed:
    """A watch that tells nothing and stops when the other does."""

    def __init__(self, watch: Watch) -> None:
        self._watch = watch

    def report(self, progress: Progress) -> None:
        """Nobody asked for this plan."""

    def stopped(self) -> bool:
        """As the watch that it stands for."""
        return self._watch.stopped()


def make_ready(watch: Watch, say: Callable[[str], object]) -> None:
    """Compile what planning needs, where this installation has not yet; about half a minute.

    Raises `Interrupted` where ``watch`` ended it.
    """
    if is_ready():
        return
    say("compiling, once after installation: about half a minute")
    plan(generate(CROWDED, seed=1), Options(effort=1), _Hushed(watch))
    if not watch.stopped():
        set_ready()
