"""Rule 4: a station, and a technician, does one thing at a time."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, NamedTuple

from planner.engine.verify.breach import Breach

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.verify.facts import Facts


class _Use(NamedTuple):
    """Planned minutes ``[start, end)``: of which request or care (none for a break), in words."""

    start: int
    end: int
    name: tuple[str, ...]
    words: str


def one_thing_at_a_time(facts: Facts) -> Iterator[Breach]:
    """Rule 4, by planned start and length on the wall clock; touching is no overlap.

    Every use is compared with the one before it that lasts longest, so n uses take n log n.
    """
    for (kind, resource), uses in _uses(facts).items():
        holder: _Use | None = None
        for use in sorted(uses):
            if use.end <= use.start:  # too short to share a minute; rules 6 and 10 tell
                continue
            if holder is not None and use.start < holder.end:
                detail = (
                    f"{kind} {resource} has {holder.words} until {facts.at(holder.end)} "
                    f"and {use.words} from {facts.at(use.start)}"
                )
                yield Breach(4, (resource, *holder.name, *use.name), detail)
            if holder is None or use.end > holder.end:
                holder = use


def _uses(facts: Facts) -> dict[tuple[str, str], list[_Use]]:
    """What every station and every technician does."""
    uses: dict[tuple[str, str], list[_Use]] = defaultdict(list)
    for booking in facts.plan.bookings:
        end = booking.start + booking.minutes
        use = _Use(booking.start, end, (booking.request,), f"the booking of {booking.request}")
        uses["station", booking.station].append(use)
        uses["technician", booking.technician].append(use)
    for placed in facts.plan.care:
        care = facts.care.get(placed.care)
        if care is not None:
            end = placed.start + care.minutes
            use = _Use(placed.start, end, (care.id,), f"the care {care.id}")
            uses["station", care.station].append(use)
            if placed.technician is not None:
                uses["technician", placed.technician].append(use)
    for rest in facts.plan.breaks:
        use = _Use(rest.start, rest.start + rest.minutes, (), "a break")
        uses["technician", rest.technician].append(use)
    return uses
