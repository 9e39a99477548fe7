"""One site's day out of the record, as the book that the board draws."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, datetime
from math import nan

from planner.engine import network as engine
from planner.engine import plan as plans
from planner.gateway.board.book import Book, open_book
from planner.gateway.board.day import DayPage, day_page
from planner.gateway.board.likely import likely_ends
from planner.gateway.record.requests import engine_profile
from planner.gateway.record.terms import grain_of, latest, policy_of
from sites.clock import wall
from sites.models import Appointment, CareWindow, ProgrammeVersion, Shift, Site, Step
from sites.selectors.day import SiteDayRows, site_day_rows
from sites.selectors.hours import without
from sites.step import OCCUPIES


def day_from_record(*, site: Site, day: date, now: datetime) -> tuple[DayPage, SiteDayRows]:
    """The page of a day, and the rows that it was drawn from; a fixed number of queries."""
    rows = site_day_rows(site=site, day=day)
    placed = [row for row in rows.appointments if row.step in OCCUPIES]
    book = book_of(site, day, rows, placed)
    ends = likely_ends(book.network, book.plan) if placed else {}
    here, minute = wall(site.timezone, now)
    return day_page(book, site.code, 0, ends, now=minute if here == day else None), rows


def book_of(site: Site, day: date, rows: SiteDayRows, placed: list[Appointment]) -> Book:
    """The rows as a network of one day and its plan."""
    profiles = {row.request.profile.code: engine_profile(row.request.profile) for row in placed}
    named = dict(zip((care.pk for care in rows.care), care_names(rows.care), strict=True))
    terms = latest(rows.terms, day) or [ProgrammeVersion()]
    network = engine.Network(
        grain=grain_of(terms),
        first_day=day,
        days=1,
        policy=policy_of(terms),
        profiles=tuple(profiles.values()),
        sites=(
            engine.Site(
                site.code,
                site.name,
                site.timezone,
                tuple(engine.Window(*window) for window in rows.windows),
            ),
        ),
        stations=tuple(
            engine.Station(
                station.code,
                site.code,
                tuple(feature.code for feature in station.features.all()),
                tuple(
                    engine.Closure(start, end, why)
                    for start, end, why in rows.closed.get(station.pk, [])
                ),
            )
            for station in rows.stations
        ),
        technicians=technicians(site, rows),
        requests=tuple(request_of(row, day, site.code) for row in placed),
        care=tuple(
            engine.Care(
                named[care.pk], care.station.code, care.minutes, 0, 0, care.needs_technician
            )
            for care in rows.care
        ),
    )
    plan = plans.Plan(
        bookings=tuple(
            plans.Booking(
                request=row.request.reference,
                site=site.code,
                station=row.station.code,
                technician=row.technician.code,
                start=row.minute,
                told=row.told_minute,
                minutes=row.minutes,
                p_wait=nan if row.p_wait is None else row.p_wait,
            )
            for row in placed
        ),
        care=tuple(
            plans.CarePlaced(
                named[care.pk],
                care.minute or 0,
                care.technician.code if care.technician else None,
            )
            for care in rows.care
        ),
        care_unplaced=(),
        breaks=tuple(
            plans.Break(each.technician.code, each.minute, each.minutes)
            for each in rows.breaks
            if on_shift(network, each.technician.code, each.minute)
        ),
        unbooked=(),
        moved=(),
        lengths={},
        objective=0,
        bound=0,
        gap=None,
    )
    said = {row.request.reference: words(row) for row in placed}
    return open_book(network, plan, said)


def care_names(windows: list[CareWindow]) -> list[str]:
    """Each one's kind and station, with a number from the second of a kind there on."""
    seen: Counter[str] = Counter()
    names = []
    for care in windows:
        name = f"{care.kind} {care.station.code}"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} {seen[name]}")
    return names


def request_of(row: Appointment, day: date, site: str) -> engine.Request:
    """The request of an appointment, with this site as its place."""
    one = row.request
    return engine.Request(
        id=one.reference,
        profile=one.profile.code,
        release=(one.release - day).days,
        due=(one.due - day).days,
        weight=one.priority,
        sites=(engine.SiteChoice(site, 0),),
        rework=one.rework,
    )


def technicians(site: Site, rows: SiteDayRows) -> tuple[engine.Technician, ...]:
    """Who is there, and when: shifts less absences."""
    there: dict[str, list[engine.Shift]] = {}
    for shift in rows.shifts:
        for start, end in pieces(shift, rows.away.get(shift.technician_id, [])):
            there.setdefault(shift.technician.code, []).append(
                engine.Shift(site.code, start, end, 0, start, end)
            )
    return tuple(engine.Technician(code, (), tuple(times)) for code, times in there.items())


def pieces(shift: Shift, away: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """What absences leave of a shift."""
    left = [(shift.minute, shift.minute + shift.minutes)]
    for start, end in away:
        left = without(left, start, end)
    return left


def on_shift(network: engine.Network, technician: str, minute: int) -> bool:
    """Whether somebody is on shift at a minute."""
    return any(
        shift.start <= minute < shift.end
        for each in network.technicians
        if each.id == technician
        for shift in each.shifts
    )


def words(row: Appointment) -> str:
    """What the record says of an appointment beside its time."""
    parts = [] if row.step == Step.BOOKED else [Step(row.step).label.lower()]
    if row.fixed:
        parts.append("fixed")
    return ", ".join(parts)
