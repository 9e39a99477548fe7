"""Where several regions stand, told as one run."""

from __future__ import annotations

from planner.engine.booking.watch import Progress

STAGES = (
    "lengths", "options", "ascent", "program", "care", "timetable", "push back",
    "improve", "exact days", "mend", "polish", "reasons", "check",
)  # fmt: skip
"""The stages of a run in their order; lengths and options come twice."""


class Together:
    """The last progress of each region, summed.

    The stage is the earliest in which a region still is, waiting ones aside. Cost, bound and gap
    are told once every region has them: a sum over some says nothing of the whole. Booked is what
    is booked so far.
    """

    def __init__(self, regions: int) -> None:
        self.regions = regions
        self.last: dict[int, Progress] = {}
        self.done: set[int] = set()

    def hear(self, region: int, progress: Progress) -> None:
        """Take note of where a region (from 0) stands."""
        self.last[region] = progress

    def end(self, region: int) -> None:
        """Take note that a region has its plan."""
        self.done.add(region)

    def progress(self, seconds: float) -> Progress:
        """The sum, ``seconds`` after the whole began."""
        known = list(self.last.values())
        everyone = len(known) == self.regions
        cost = _sum([item.cost for item in known]) if everyone else None
        bound = _sum([item.bound for item in known]) if everyone else None
        booked = [item.booked for item in known if item.booked is not None]
        busy = [item.stage for k, item in self.last.items() if k not in self.done]
        return Progress(
            stage=min(busy, key=_order, default="join"),
            cost=cost,
            bound=bound,
            gap=(cost - bound) / bound if cost is not None and bound else None,
            booked=sum(booked) if booked else None,
            detail=f"{len(self.done)} of {self.regions} regions planned",
            seconds=seconds,
        )


def _order(stage: str) -> int:
    return STAGES.index(stage) if stage in STAGES else 0


def _sum(values: list[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) if len(known) == len(values) else None
