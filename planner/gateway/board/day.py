"""One site on one day: everything its page says, ready for the template."""

from __future__ import annotations

from dataclasses import dataclass
from math import isnan, nan

from planner.engine.plan import Booking
from planner.engine.units import DAY, NOON
from planner.gateway.board.book import Book
from planner.gateway.board.frame import Frame
from planner.gateway.board.room import load_of
from planner.gateway.board.rows import Ends, Row, Sheet, station_rows, technician_rows
from planner.gateway.board.words import clock, day_words_long, share, zone_words


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the day's list."""

    request: str
    told: str
    start: str
    end: str
    likely: str
    station: str
    technician: str
    profile: str
    minutes: int
    p_wait: str
    notes: str


@dataclass(frozen=True, slots=True)
class Other:
    """A line of the list of everything that is not a session."""

    start: str
    end: str
    what: str
    where: str
    who: str


@dataclass(frozen=True, slots=True)
class Fact:
    """A figure with its name."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Tick:
    """A full hour across the drawing; ``anchor`` keeps the outermost words inside it."""

    x: str
    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class DayPage:
    """A day's page. ``likely`` says whether the ends of sessions are drawn.

    ``now`` is where the present minute lies across the drawing, None where it is not on it.
    """

    site: str
    date: str
    zone: str
    opening: str
    wait_minutes: int
    pixels: int
    ticks: list[Tick]
    stations: list[Row]
    technicians: list[Row]
    entries: list[Entry]
    others: list[Other]
    facts: list[Fact]
    likely: bool
    now: str | None


def day_page(book: Book, site: str, day: int, ends: Ends, now: int | None = None) -> DayPage:
    """The page of ``site`` on ``day``; ``now`` is the minute that its clock shows, if it is today.

    On a day without hours, shifts and sessions the drawing shows noon.
    """
    key = (site, day)
    frame = _frame(book, site, day, ends)
    sheet = Sheet(book, site, day, frame, ends)
    first = book.network.first_day
    windows = book.openings.get(key, [])
    return DayPage(
        site=book.sites[site].name,
        date=day_words_long(day, first),
        zone=zone_words(book.sites[site].timezone, day, first),
        opening=", ".join(f"{clock(item.start, day)} to {clock(item.end, day)}" for item in windows)
        or "closed",
        wait_minutes=book.network.policy.wait_minutes,
        pixels=frame.pixels,
        ticks=[
            Tick(
                frame.at(hour),
                clock(hour, day),
                {frame.start: "start", frame.end: "end"}.get(hour, "middle"),
            )
            for hour in frame.hours()
        ],
        stations=station_rows(sheet),
        technicians=technician_rows(sheet),
        entries=[_entry(book, item, day, ends) for item in book.told_order(site, day)],
        others=_others(book, site, day),
        facts=_facts(book, site, day),
        likely=any(item.request in ends for item in book.bookings.get(key, [])),
        now=frame.at(now) if now is not None and frame.start <= now < frame.end else None,
    )


def _frame(book: Book, site: str, day: int, ends: Ends) -> Frame:
    key = (site, day)
    booked = book.bookings.get(key, [])
    minutes = [edge for item in book.openings.get(key, []) for edge in (item.start, item.end)]
    minutes += [edge for _, item in book.shifts.get(key, []) for edge in (item.start, item.end)]
    minutes += [edge for item in booked for edge in (item.start, item.start + item.minutes)]
    minutes += [ends[item.request][1] for item in booked if item.request in ends]
    minutes = minutes or [day * DAY + NOON]
    return Frame.around([min(max(item, day * DAY), (day + 1) * DAY) for item in minutes])


def _entry(book: Book, item: Booking, day: int, ends: Ends) -> Entry:
    notes = [said] if (said := book.said.get(item.request)) else []
    if book.requests[item.request].rework:
        notes.append("rework")
    if item.request in book.fixed:
        notes.append("fixed")
    if item.request in book.moved:
        notes.append("moved")
    if item.p_wait > book.network.policy.wait_risk:
        notes.append("over the promise")
    likely = ends.get(item.request)
    return Entry(
        request=item.request,
        told=clock(item.told, day),
        start=clock(item.start, day),
        end=clock(item.start + item.minutes, day),
        likely=f"{clock(likely[0], day)} to {clock(likely[1], day)}" if likely else "-",
        station=item.station,
        technician=item.technician,
        profile=book.profile_at(item),
        minutes=item.minutes,
        p_wait=share(item.p_wait),
        notes=", ".join(notes),
    )


def _others(book: Book, site: str, day: int) -> list[Other]:
    key = (site, day)
    found = [
        (item.start, item.start + item.minutes, "break", "", item.technician)
        for item in book.breaks.get(key, [])
    ]
    found += [
        (
            put.start,
            put.start + care.minutes,
            f"scanner care {care.id}",
            care.station,
            put.technician or "",
        )
        for care, put in book.care.get(key, [])
    ]
    found += [
        (item.start, item.end, f"closed: {item.why}", station, "")
        for station, item in book.closures.get(key, [])
    ]
    return [
        Other(clock(max(start, day * DAY), day), clock(min(end, (day + 1) * DAY), day), *words)
        for start, end, *words in sorted(found)
    ]


def _facts(book: Book, site: str, day: int) -> list[Fact]:
    load = load_of(book, site, day)
    policy = book.network.policy
    booked = book.bookings.get((site, day), [])
    worst = max((item.p_wait for item in booked if not isnan(item.p_wait)), default=nan)
    rework = sum(book.requests[item.request].rework for item in booked)
    used = "no room" if load.used is None else share(load.used, 0)
    return [
        Fact("sessions", f"{load.booked}"),
        Fact("rework among them", f"{rework}"),
        Fact("planned of room", f"{load.planned} of {load.room} min ({used})"),
        Fact(f"worst chance of a wait over {policy.wait_minutes} min", share(worst)),
        Fact("promised at most", share(policy.wait_risk)),
    ]
