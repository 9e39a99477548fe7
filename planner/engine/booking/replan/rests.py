"""Breaks stay where the plan has them; one that an event cut away gets the least costly place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace

from planner.engine.booking.problem import Problem
from planner.engine.booking.siteday import Block, SiteDay
from planner.engine.network import Network, Shift
from planner.engine.plan import Break
from planner.engine.units import DAY

Key = tuple[int, int]
Rests = dict[Key, int]
"""(technician, shift) -> start of the break, in network minutes."""
Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Busy:
    """Something of a technician's ``[start, end)``: ``weight`` says what giving way costs."""

    start: int
    end: int
    weight: float


def split_rests(network: Network, breaks: Sequence[Break]) -> tuple[Rests, dict[Key, int]]:
    """The planned breaks that stand, and the shifts that need one with where it was before.

    A shift that starts outside the horizon needs none (rule 6).
    """
    planned: dict[str, list[Break]] = {}
    for item in breaks:
        planned.setdefault(item.technician, []).append(item)
    stand: Rests = {}
    missing: dict[Key, int] = {}
    for person, technician in enumerate(network.technicians):
        mine = planned.get(technician.id, [])
        for number, shift in enumerate(technician.shifts):
            if not shift.break_minutes:
                continue
            kept = [item for item in mine if _fits(item, shift)]
            if kept:
                stand[person, number] = kept[0].start
            elif 0 <= shift.start < network.days * DAY:
                near = [item.start for item in mine]
                wanted = min(near, key=lambda at: abs(at - shift.start), default=shift.break_start)
                missing[person, number] = wanted
    return stand, missing


def _fits(item: Break, shift: Shift) -> bool:
    end = item.start + shift.break_minutes
    return (
        item.minutes == shift.break_minutes and shift.break_start <= item.start
        and end <= shift.break_end and shift.start <= item.start and end <= shift.end
    )  # fmt: skip


def place_rest(shift: Shift, wanted: int, busy: Sequence[Busy]) -> int:
    """The start of a break that makes least give way, and of these the one nearest ``wanted``.

    ``busy`` weighs what stands by what its giving way costs; infinite weights never give way, and
    the caller has seen to it that the break has room beside those.
    """
    first = max(shift.start, shift.break_start)
    last = min(shift.end, shift.break_end) - shift.break_minutes
    best, least = first, (float("inf"), 0)
    for start in range(first, last + 1):
        end = start + shift.break_minutes
        cost = sum(item.weight for item in busy if item.start < end and start < item.end)
        if (cost, abs(start - wanted)) < least:
            best, least = start, (cost, abs(start - wanted))
    return best


def freeze(problem: Problem, rests: Mapping[Key, int]) -> Problem:
    """The problem with every break standing at its time, as a block of its site-day.

    Free minutes of stations and workers are those of ``problem``; its own breaks are not kept.
    """
    frozen = replace(problem, early_breaks=dict(rests), sitedays=[])
    for siteday in problem.sitedays:
        frozen.sitedays.append(_frozen(problem.network, siteday, rests))
    return frozen


def _frozen(network: Network, siteday: SiteDay, rests: Mapping[Key, int]) -> SiteDay:
    found = copy(siteday)
    found.workers = tuple(replace(worker, break_minutes=0) for worker in siteday.workers)
    blocks = [block for block in siteday.fixed if block.request >= 0]
    for place, worker in enumerate(siteday.workers):
        start = rests.get((worker.technician, worker.shift))
        if start is not None:
            minutes = network.technicians[worker.technician].shifts[worker.shift].break_minutes
            low = max(0, start - siteday.day * DAY)
            high = min(DAY, start + minutes - siteday.day * DAY)
            if low < high:
                blocks.append(Block(low, high - low, -1, place))
    found.fixed = tuple(sorted(blocks, key=lambda block: (block.start, block.station)))
    return found
