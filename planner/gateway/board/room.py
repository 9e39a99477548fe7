"""How much of a site's day is planned: minutes of bookings against minutes of room."""

from __future__ import annotations

from dataclasses import dataclass

from planner.gateway.board.book import Book


@dataclass(frozen=True, slots=True)
class Load:
    """Bookings, their planned minutes and the room (rule 8) of a site's day, in minutes."""

    booked: int
    planned: int
    room: int

    @property
    def used(self) -> float | None:
        """Planned minutes as a share of the room; None where there is no room."""
        return self.planned / self.room if self.room else None


def load_of(book: Book, site: str, day: int) -> Load:
    """Bookings and room of one site's day.

    The room is the smaller of the site's open station minutes (less closed times and care) and the
    shift minutes of its technicians inside opening hours (less breaks there and care that needs a
    technician).
    """
    key = (site, day)
    openings = [(item.start, item.end) for item in book.openings.get(key, [])]
    shut: dict[str, list[tuple[int, int]]] = {item.id: [] for item in book.stations.get(site, [])}
    for station, closure in book.closures.get(key, []):
        shut[station].append((closure.start, closure.end))
    stations = sum(_length(openings) - common(openings, times) for times in shut.values())
    people = sum(
        common(openings, [(shift.start, shift.end)]) for _, shift in book.shifts.get(key, [])
    )
    people -= sum(
        common(openings, [(item.start, item.start + item.minutes)])
        for item in book.breaks.get(key, [])
    )
    for care, _ in book.care.get(key, []):
        stations -= care.minutes
        people -= care.minutes if care.technician else 0
    booked = book.bookings.get(key, [])
    return Load(len(booked), sum(item.minutes for item in booked), max(0, min(stations, people)))


def _length(times: list[tuple[int, int]]) -> int:
    return sum(end - start for start, end in times)


def common(left: list[tuple[int, int]], right: list[tuple[int, int]]) -> int:
    """Minutes that lie in ``left`` (which does not overlap itself) and in any of ``right``."""
    total = 0
    for start, end in left:
        reach = start
        for begin, close in sorted(right):
            fresh = max(begin, reach)
            reach = max(reach, min(close, end))
            total += max(0, reach - fresh)
    return total
