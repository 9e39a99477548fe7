"""Breaks that need no thought: those that can lie outside opening hours, or must be fixed first."""

from __future__ import annotations

from dataclasses import replace

from planner.engine.network import Network, Shift
from planner.engine.units import DAY

Span = tuple[int, int]


def with_breaks_in_shifts(network: Network) -> Network:
    """The network with every break window cut to its shift: a break lies inside both (rule 6)."""
    people = []
    for person in network.technicians:
        shifts = tuple(
            replace(
                shift,
                break_start=max(shift.start, shift.break_start),
                break_end=min(shift.end, shift.break_end),
            )
            if shift.break_minutes
            else shift
            for shift in person.shifts
        )
        people.append(person if shifts == person.shifts else replace(person, shifts=shifts))
    if all(one is other for one, other in zip(people, network.technicians, strict=True)):
        return network
    return replace(network, technicians=tuple(people))


def outside_opening(shift: Shift, opens: list[Span], taken: list[Span]) -> int | None:
    """The latest start that keeps a break clear of opening times and of ``taken``, or None.

    ``opens`` and ``taken`` are in network minutes. Where nothing is open the break costs no
    capacity wherever it is.
    """
    return latest_free(shift, opens + taken)


def latest_free(shift: Shift, busy: list[Span]) -> int | None:
    """The latest start in the shift's break window whose break meets nothing in ``busy``."""
    start = shift.break_end - shift.break_minutes
    for low, high in sorted(busy, key=lambda span: -span[1]):
        if low < start + shift.break_minutes and start < high:
            start = low - shift.break_minutes
    return start if start >= shift.break_start and _clear(start, shift, busy) else None


def _clear(start: int, shift: Shift, busy: list[Span]) -> bool:
    return all(start + shift.break_minutes <= low or high <= start for low, high in busy)


def least_overlap(shift: Shift, region: list[Span]) -> int:
    """The fewest minutes of ``region`` that the shift's break must take, wherever it is placed.

    The overlap is piecewise linear in the start, so its least value is at the window's ends or
    where the break touches an end of an interval of ``region`` (disjoint intervals).
    """
    if not shift.break_minutes:
        return 0
    low, high = shift.break_start, shift.break_end - shift.break_minutes
    starts = {low, high}
    for start, end in region:
        starts.update((start - shift.break_minutes, start, end - shift.break_minutes, end))
    return min(
        sum(max(0, min(b, at + shift.break_minutes) - max(a, at)) for a, b in region)
        for at in starts
        if low <= at <= high
    )


def crosses_midnight(shift: Shift) -> bool:
    """Whether no single day has room for the shift's break."""
    days = range(shift.break_start // DAY, shift.break_end // DAY + 1)
    return all(
        min(shift.break_end, (day + 1) * DAY) - max(shift.break_start, day * DAY)
        < shift.break_minutes
        for day in days
    )


def open_spans(network: Network, site: int, shift: Shift) -> list[Span]:
    """The opening intervals of a site that a shift meets, cut to the shift."""
    spans = []
    for window in network.sites[site].open:
        low, high = max(window.start, shift.start), min(window.end, shift.end)
        if low < high:
            spans.append((low, high))
    return sorted(spans)
