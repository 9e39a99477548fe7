"""Rule 6: every shift that has a break has it once, of its length, in its window."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from planner.engine.units import DAY
from planner.engine.verify.breach import Breach

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.engine.network import Shift
    from planner.engine.plan import Break
    from planner.engine.verify.facts import Facts


def breaks_of_shifts(facts: Facts) -> Iterator[Breach]:
    """Rule 6. A break belongs to the shift in which it starts; the site may be closed then.

    Only shifts that start in the horizon must have theirs.
    """
    taken: dict[tuple[str, int], list[Break]] = defaultdict(list)
    for rest in facts.plan.breaks:
        entry = facts.shift_at(rest.technician, rest.start)
        if rest.technician not in facts.technicians:
            detail = f"a break is planned for {rest.technician}, no known technician"
            yield Breach(6, (rest.technician,), detail)
        elif entry is None or entry[1].break_minutes <= 0:
            span = facts.span(rest.start, rest.minutes)
            detail = f"{rest.technician} has a break {span}, which belongs to no shift with a break"
            yield Breach(6, (rest.technician,), detail)
        else:
            taken[rest.technician, entry[0]].append(rest)
    for technician in facts.technicians:
        for start, index, shift in facts.shifts[technician]:
            if shift.break_minutes > 0:
                rests = taken.get((technician, index), [])
                needed = 0 <= start < facts.network.days * DAY
                yield from _one_break(facts, technician, shift, rests, needed=needed)


def _one_break(
    facts: Facts, technician: str, shift: Shift, rests: list[Break], *, needed: bool
) -> Iterator[Breach]:
    name = f"{technician}'s shift from {facts.at(shift.start)}"
    if len(rests) > 1 or (needed and not rests):
        yield Breach(6, (technician,), f"{name} has {len(rests)} breaks instead of one")
    for rest in rests:
        if rest.minutes != shift.break_minutes:
            detail = f"{name} has a break of {rest.minutes} minutes, not {shift.break_minutes}"
            yield Breach(6, (technician,), detail)
        earliest = max(shift.start, shift.break_start)
        latest = min(shift.end, shift.break_end)
        if rest.start < earliest or rest.start + rest.minutes > latest:
            detail = (
                f"{name} has its break {facts.span(rest.start, rest.minutes)}, not within "
                f"{facts.at(earliest)} to {facts.at(latest)}"
            )
            yield Breach(6, (technician,), detail)
