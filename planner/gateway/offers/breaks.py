"""Breaks of the shifts: where a plan or a person placed them, else where they still fit."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from planner.engine import plan as plans
from planner.engine.network import Shift, Technician, Window
from planner.engine.units import DAY
from planner.gateway.offers.rows import SiteRows
from planner.gateway.record.horizon import less
from sites.models import Appointment


def placed_breaks(
    technicians: Sequence[Technician], booked: Sequence[Appointment], rows: SiteRows
) -> tuple[tuple[Technician, ...], tuple[plans.Break, ...]]:
    """The technicians, and a break for every shift that has one.

    A shift whose break is in the record keeps it there. A break that nobody placed yet takes the
    first free time of its window, so that no offer takes that away; where none is left, the
    shift goes without, as the record has it. A break outside its window only takes its time.
    """
    horizon = rows.horizon
    codes = {row.pk: row.code for row in rows.technicians}
    rests: dict[str, list[Window]] = defaultdict(list)
    for row in rows.breaks:
        start = horizon.minute(row.day, row.minute)
        if row.technician_id in codes:
            rests[codes[row.technician_id]].append(Window(start, start + row.minutes))
    busy: dict[str, list[Window]] = defaultdict(list)
    for one in booked:
        start = horizon.minute(one.day, one.minute)
        busy[codes[one.technician_id]].append(Window(start, start + one.minutes))
    people, found = [], list[plans.Break]()
    for person in technicians:
        shifts: list[Shift] = []
        for shift in person.shifts:
            kept, placed = _of_shift(shift, rests[person.id], busy[person.id])
            shifts += kept
            found += [plans.Break(person.id, each.start, each.end - each.start) for each in placed]
        people.append(replace(person, shifts=tuple(shifts)))
    return tuple(people), tuple(found)


def _of_shift(
    shift: Shift, rests: list[Window], busy: list[Window]
) -> tuple[list[Shift], list[Window]]:
    """A shift, in pieces where an odd break cuts it, and its breaks."""
    mine = [rest for rest in rests if shift.start <= rest.start and rest.end <= shift.end]
    if not mine and not shift.break_minutes:
        return [shift], []
    lowest, highest = max(shift.start, shift.break_start), min(shift.end, shift.break_end)
    whole = [each for each in mine if lowest <= each.start and each.end <= highest]
    if len(mine) == len(whole) == 1 and shift.break_minutes == mine[0].end - mine[0].start:
        return [shift], mine
    if mine:
        return [_plain(shift, each) for each in less(shift.start, shift.end, mine)], []
    elsewhere = any(rest.start // DAY == shift.start // DAY for rest in rests)
    for free in [] if elsewhere else less(lowest, highest, busy):
        if free.end - free.start >= shift.break_minutes:
            return [shift], [Window(free.start, free.start + shift.break_minutes)]
    return [_plain(shift, Window(shift.start, shift.end))], []


def _plain(shift: Shift, span: Window) -> Shift:
    """A piece of a shift without a break."""
    return Shift(shift.site, span.start, span.end, 0, span.start, span.end)
