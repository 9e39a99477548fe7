"""What a site-day is asked to hold, and the timetable that comes out."""

from __future__ import annotations

from dataclasses import dataclass, replace

from planner.engine.booking.siteday import Block


@dataclass(frozen=True, slots=True)
class Job:
    """A request to be placed on a site-day: its planned minutes and profile there."""

    request: int
    profile: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Demand:
    """What one site-day is asked to hold.

    ``pinned`` are movable appointments that stay where they are and care that has its time;
    care has profile and request -1 and ``care`` as its place in the network's list.
    """

    jobs: tuple[Job, ...]
    pinned: tuple[Block, ...] = ()
    care: tuple[tuple[int, Block], ...] = ()


@dataclass(frozen=True, slots=True)
class Slot:
    """A job in its place: minutes past midnight, places of station and worker in the site-day."""

    job: Job
    start: int
    station: int
    worker: int


@dataclass(frozen=True, slots=True)
class Timetable:
    """A site-day's timetable. ``rests`` has each worker's break start, -1 where there is none."""

    siteday: int
    slots: tuple[Slot, ...] = ()
    left: tuple[Job, ...] = ()
    rests: tuple[int, ...] = ()
    pinned: tuple[Block, ...] = ()
    unpinned: tuple[Block, ...] = ()
    care: tuple[tuple[int, Block], ...] = ()
    sound: bool = True

    def without_left(self) -> Timetable:
        """The same timetable, with those who found no place forgotten."""
        return replace(self, left=())
