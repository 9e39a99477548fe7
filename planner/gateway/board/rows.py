"""The rows of the day's drawing: stations with what they do, technicians with where they are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from planner.engine.plan import Booking
from planner.gateway.board.book import Book
from planner.gateway.board.frame import Frame
from planner.gateway.board.words import clock, share

ROOMY = 40
"""Minutes of a bar that is wide enough to say both its start and its end."""

Ends = Mapping[str, tuple[int, int]]
"""By request: the minutes between which its session ends in 80 of 100 cases (10 % and 90 %)."""


@dataclass(frozen=True, slots=True)
class Bar:
    """One thing in a row: where it lies, what it says, its line in the list (0: none)."""

    kind: str
    x: str
    width: str
    label: str
    second: str
    says: str
    entry: int = 0
    rework: bool = False
    tail: tuple[str, str] | None = None
    lane: int = 0


@dataclass(frozen=True, slots=True)
class Row:
    """A station or a technician over the day."""

    name: str
    note: str
    says: str
    bars: tuple[Bar, ...]


def station_rows(book: Book, site: str, day: int, frame: Frame, ends: Ends) -> list[Row]:
    """A row per station: times the site is shut, closed times, care, and sessions with tails."""
    key = (site, day)
    entries = _entries(book, site, day)
    shut = _shut(book, site, day, frame)
    rows = []
    for station in book.stations.get(site, []):
        booked = [item for item in book.bookings.get(key, []) if item.station == station.id]
        bars = list(shut)
        bars += [
            _block("closed", frame, day, (item.start, item.end), item.why)
            for who, item in book.closures.get(key, [])
            if who == station.id
        ]
        bars += [
            _block("care", frame, day, (put.start, put.start + care.minutes), f"care {care.id}")
            for care, put in book.care.get(key, [])
            if care.station == station.id
        ]
        bars += [
            _session(
                book, frame, day, item, item.technician, entries, ends.get(item.request), place % 2
            )
            for place, item in enumerate(booked)
        ]
        says = f"Station {station.id}, {_count(len(booked), 'session')}"
        rows.append(Row(station.id, ", ".join(station.features), says, tuple(bars)))
    return rows


def technician_rows(book: Book, site: str, day: int, frame: Frame) -> list[Row]:
    """A row per technician who is at the site that day: shift, sessions, care and breaks."""
    key = (site, day)
    entries = _entries(book, site, day)
    rows = []
    for who in _ordered(technician for technician, _ in book.shifts.get(key, [])):
        shifts = [shift for name, shift in book.shifts[key] if name == who]
        booked = [item for item in book.bookings.get(key, []) if item.technician == who]
        bars = [
            _block("shift", frame, day, (shift.start, shift.end), "on shift") for shift in shifts
        ]
        bars += [
            _block("break", frame, day, (item.start, item.start + item.minutes), "break")
            for item in book.breaks.get(key, [])
            if item.technician == who
        ]
        bars += [
            _block("care", frame, day, (put.start, put.start + care.minutes), f"care {care.id}")
            for care, put in book.care.get(key, [])
            if put.technician == who
        ]
        bars += [_session(book, frame, day, item, item.station, entries) for item in booked]
        hours = ", ".join(f"{clock(item.start, day)} to {clock(item.end, day)}" for item in shifts)
        says = f"Technician {who}, {hours}, {_count(len(booked), 'session')}"
        rows.append(Row(who, hours, says, tuple(bars)))
    return rows


def _session(
    book: Book,
    frame: Frame,
    day: int,
    item: Booking,
    partner: str,
    entries: Mapping[str, int],
    likely: tuple[int, int] | None = None,
    lane: int = 0,
) -> Bar:
    rework = book.requests[item.request].rework
    says = [
        f"told {clock(item.told, day)}",
        f"planned {clock(item.start, day)} to {clock(item.start + item.minutes, day)}",
        f"request {item.request}",
        f"station {item.station}",
        f"technician {item.technician}",
        f"chance of a wait over {book.network.policy.wait_minutes} min {share(item.p_wait)}",
    ]
    if likely:
        says.append(f"likely end {clock(likely[0], day)} to {clock(likely[1], day)}")
    if rework:
        says.append("rework")
    return Bar(
        kind="session",
        x=frame.at(item.start),
        width=frame.wide(item.start, item.start + item.minutes),
        label=clock(item.told, day),
        second=partner,
        says=", ".join(says),
        entry=entries[item.request],
        rework=rework,
        tail=(frame.at(likely[0]), frame.at(likely[1])) if likely else None,
        lane=lane,
    )


def _entries(book: Book, site: str, day: int) -> dict[str, int]:
    """The line of every request in the day's list, from 1."""
    return {item.request: line for line, item in enumerate(book.told_order(site, day), start=1)}


def _block(kind: str, frame: Frame, day: int, times: tuple[int, int], words: str) -> Bar:
    start, end = times
    hours = f"{clock(start, day)} to {clock(end, day)}"
    second = hours if end - start >= ROOMY else clock(start, day)
    return Bar(kind, frame.at(start), frame.wide(start, end), words, second, f"{words}, {hours}")


def _shut(book: Book, site: str, day: int, frame: Frame) -> list[Bar]:
    """The times in the frame in which the site takes nobody."""
    bars, reach = [], frame.start
    for window in book.openings.get((site, day), []):
        if window.start > reach:
            bars.append(_block("shut", frame, day, (reach, window.start), "site closed"))
        reach = max(reach, window.end)
    if reach < frame.end:
        bars.append(_block("shut", frame, day, (reach, frame.end), "site closed"))
    return bars


def _ordered(names: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(names))


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
