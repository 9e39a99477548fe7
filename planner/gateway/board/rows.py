"""The rows of the day's drawing: stations with what they do, technicians with where they are."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from planner.engine.plan import Booking
from planner.gateway.board.book import Book
from planner.gateway.board.frame import Frame
from planner.gateway.board.words import clock, share, short_names

ROOMY = 40
"""Minutes of a bar that is wide enough to say both its start and its end."""

TIGHT = 15
"""Minutes below which a bar holds only the minutes of its told time, as ``:45``."""

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


@dataclass(frozen=True, slots=True)
class Sheet:
    """What every row of one page is drawn on: the book, the place, the frame and the ends."""

    book: Book
    site: str
    day: int
    frame: Frame
    ends: Ends

    @property
    def key(self) -> tuple[str, int]:
        """Site and day, as the book files them."""
        return self.site, self.day

    def clock(self, minute: int) -> str:
        """``HH:MM`` on the clock of this day."""
        return clock(minute, self.day)

    def entries(self) -> dict[str, int]:
        """The line of every request in the day's list, from 1."""
        order = self.book.told_order(self.site, self.day)
        return {item.request: line for line, item in enumerate(order, start=1)}


def station_rows(sheet: Sheet) -> list[Row]:
    """A row per station: times the site is shut, closed times, care, and sessions with tails."""
    book, entries, shut = sheet.book, sheet.entries(), _shut(sheet)
    rows = []
    for station in book.stations.get(sheet.site, []):
        booked = [item for item in book.bookings.get(sheet.key, []) if item.station == station.id]
        bars = list(shut)
        bars += [
            _block(sheet, "closed", item.start, item.end, item.why)
            for who, item in book.closures.get(sheet.key, [])
            if who == station.id
        ]
        bars += [
            _block(sheet, "care", put.start, put.start + care.minutes, f"care {care.id}")
            for care, put in book.care.get(sheet.key, [])
            if care.station == station.id
        ]
        bars += [
            replace(
                _session(sheet, item, item.technician, entries[item.request]),
                tail=_tail(sheet, item),
                lane=place % 2,
            )
            for place, item in enumerate(booked)
        ]
        says = f"Station {station.id}, {_count(len(booked), 'session')}"
        rows.append(Row(station.id, ", ".join(station.features), says, tuple(bars)))
    return rows


def technician_rows(sheet: Sheet) -> list[Row]:
    """A row per technician who is at the site that day: shift, sessions, care and breaks."""
    book, entries = sheet.book, sheet.entries()
    short = short_names([station.id for station in book.stations.get(sheet.site, [])])
    there = book.shifts.get(sheet.key, [])
    rows = []
    for who in dict.fromkeys(technician for technician, _ in there):
        shifts = [shift for technician, shift in there if technician == who]
        booked = [item for item in book.bookings.get(sheet.key, []) if item.technician == who]
        bars = [_block(sheet, "shift", shift.start, shift.end, "on shift") for shift in shifts]
        bars += [
            _block(sheet, "break", item.start, item.start + item.minutes, "break")
            for item in book.breaks.get(sheet.key, [])
            if item.technician == who
        ]
        bars += [
            _block(sheet, "care", put.start, put.start + care.minutes, f"care {care.id}")
            for care, put in book.care.get(sheet.key, [])
            if put.technician == who
        ]
        bars += [
            _session(sheet, item, short[item.station], entries[item.request]) for item in booked
        ]
        hours = ", ".join(f"{sheet.clock(it.start)} to {sheet.clock(it.end)}" for it in shifts)
        says = f"Technician {who}, {hours}, {_count(len(booked), 'session')}"
        rows.append(Row(who, hours, says, tuple(bars)))
    return rows


def _session(sheet: Sheet, item: Booking, partner: str, entry: int) -> Bar:
    """A booking's bar; ``partner`` is the technician in a station's row, else the station."""
    rework = sheet.book.requests[item.request].rework
    end = item.start + item.minutes
    patience = sheet.book.network.policy.wait_minutes
    says = [
        f"told {sheet.clock(item.told)}",
        f"planned {sheet.clock(item.start)} to {sheet.clock(end)}",
        f"request {item.request}",
        f"station {item.station}",
        f"technician {item.technician}",
        f"chance of a wait over {patience} min {share(item.p_wait)}",
    ]
    if item.request in sheet.ends:
        low, high = sheet.ends[item.request]
        says.append(f"likely end {sheet.clock(low)} to {sheet.clock(high)}")
    if rework:
        says.append("rework")
    return Bar(
        kind="session",
        x=sheet.frame.at(item.start),
        width=sheet.frame.wide(item.start, end),
        label=sheet.clock(item.told)[0 if item.minutes >= TIGHT else -3 :],
        second=partner,
        says=", ".join(says),
        entry=entry,
        rework=rework,
    )


def _tail(sheet: Sheet, item: Booking) -> tuple[str, str] | None:
    """Where the likely end is drawn, from and to."""
    if item.request not in sheet.ends:
        return None
    low, high = sheet.ends[item.request]
    return sheet.frame.at(low), sheet.frame.at(high)


def _block(sheet: Sheet, kind: str, start: int, end: int, words: str) -> Bar:
    hours = f"{sheet.clock(start)} to {sheet.clock(end)}"
    return Bar(
        kind=kind,
        x=sheet.frame.at(start),
        width=sheet.frame.wide(start, end),
        label=words,
        second=hours if end - start >= ROOMY else sheet.clock(start),
        says=f"{words}, {hours}",
    )


def _shut(sheet: Sheet) -> list[Bar]:
    """The times in the frame in which the site takes nobody."""
    bars, reach = [], sheet.frame.start
    for window in sheet.book.openings.get(sheet.key, []):
        if window.start > reach:
            bars.append(_block(sheet, "shut", reach, window.start, "site closed"))
        reach = max(reach, window.end)
    if reach < sheet.frame.end:
        bars.append(_block(sheet, "shut", reach, sheet.frame.end, "site closed"))
    return bars


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
