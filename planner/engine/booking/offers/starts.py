"""Every told time at which a request could start on a site-day, in order, found lazily."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

from planner.engine.booking.offers.book import Change, Group, Item, ShiftKey, Span
from planner.engine.booking.offers.holes import Hole, Holes
from planner.engine.network import Request
from planner.engine.units import DAY, told

Promised = Callable[[Group, Change], Callable[[Hole], int]]
"""For a site-day under a change: the first minute to be told in each of its free times."""


@dataclass(frozen=True, slots=True)
class Need:
    """What a request takes at a site: planned minutes, profile, and what it asks for."""

    minutes: int
    profile: str
    features: frozenset[str]
    skills: frozenset[str]


@dataclass(frozen=True, slots=True, order=True)
class Start:
    """A start that the planned times allow. ``rank`` orders those of one told time."""

    told: int
    rank: tuple[int, ...]
    start: int
    last: int
    station: int
    shift: ShiftKey


def starts(
    holes: Holes, group: Group, change: Change, request: Request, need: Need, part: Span,
    taking: Item | None = None, promised: Promised | None = None,
) -> Iterator[Start]:  # fmt: skip
    """The starts within ``part`` (minutes, half-open), by told time, then rank.

    In a free time of one station and one technician every told time is given once, with its
    earliest minute. A later minute with the same told time is dominated: people come when they
    are told, so the day runs the same, and less of the free time is left after it. Of several
    pairs the one comes first that wastes the fewest features and skills, then the shortest time.
    With ``taking`` only those that use its station or its technician while it would; nothing that
    is told before the minute that is ``promised`` for its free time.
    """
    grain = holes.book.network.grain
    windows = [(window.start, window.end) for window in request.available] or [
        (group[1] * DAY, group[1] * DAY + DAY)
    ]
    soonest = None if promised is None else promised(group, change)
    heap: list[Start] = []
    least, begins, ends = need.minutes, *part
    for hole in holes.at(group, change):
        low, high = hole.low, hole.high
        if high - low < least or high <= begins or low >= ends:
            continue
        if taking is not None and not _uses(hole, taking):
            continue
        features, skills = holes.features[hole.station], holes.skills[hole.shift[0]]
        if not (need.features <= features and need.skills <= skills):
            continue
        for since, until in windows:
            first = max(low, since, begins)
            last = min(min(high, until) - least, ends - 1)
            if taking is not None:
                last = min(last, taking.end - 1)
                if first <= taking.thing.order - least:
                    first = told(taking.thing.order - least, grain) + grain
            if first <= last and soonest is not None:
                sound = soonest(hole)
                if told(first, grain) < sound:
                    first = told(sound + grain - 1, grain)
            if first <= last:
                more = (len(features) - len(need.features), len(skills) - len(need.skills))
                rank = (*more, high - low, hole.station, *hole.shift)
                heap.append(Start(told(first, grain), rank, first, last, hole.station, hole.shift))
    heapify(heap)
    while heap:
        found = heappop(heap)
        yield found
        following = found.told + grain
        if following <= found.last:
            heappush(
                heap,
                Start(following, found.rank, following, found.last, found.station, found.shift),
            )


def _uses(hole: Hole, item: Item) -> bool:
    """Whether a free time has an item's station or its technician, while it would be there."""
    same = hole.station == item.thing.station or hole.shift[0] == item.thing.technician
    return same and hole.low < item.end and item.thing.order < hole.high
