"""A run's result read once for many looks at it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

from planner.engine.network import Network
from planner.engine.plan import Plan
from planner.gateway.review.figures import Figures, Told, figures_in_force, figures_of, told_by
from planner.gateway.review.lines import Line, lines_of
from planner.gateway.review.load import Row, loads_of
from planner.gateway.runs import result
from sites.models import PlanRun

KEPT = 3
"""Results that a process keeps at hand: one with 50,000 requests takes seconds to read."""


@dataclass(frozen=True)
class Review:
    """A plan with its network, laid out; every part is worked out once, when it is asked for."""

    network: Network
    plan: Plan

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """What would happen to each request."""
        return lines_of(self.network, self.plan)

    @cached_property
    def figures(self) -> Figures:
        """What the plan comes to."""
        return figures_of(self.network, self.plan)

    @cached_property
    def in_force(self) -> Figures:
        """What was booked when the run began, on the same scale."""
        return figures_in_force(self.network)

    @cached_property
    def loads(self) -> tuple[Row, ...]:
        """How full each site's day would be."""
        return loads_of(self.network, self.plan)

    @cached_property
    def told(self) -> dict[str, Told]:
        """Site, day and told minute by request."""
        return told_by(self.network, self.plan)


def review(run: PlanRun) -> Review:
    """The review of a run's best plan. Raises NotReady where it has none."""
    return _opened(run.pk, run.network_digest, run.plan_digest)


@lru_cache(maxsize=KEPT)
def _opened(run: int, network: str, plan: str) -> Review:
    """By the digests of both files, so that a later plan of the same run is another one."""
    found = result(run)
    return Review(found.network, found.plan)
