"""A network and a plan side by side, looked up by id: what every rule is judged from."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeVar

from planner.engine.units import day_text, minute_text
from planner.engine.verify.spans import Span, union

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.engine.network import (
        Appointment,
        Care,
        Network,
        Profile,
        Request,
        Shift,
        Site,
        Station,
        Technician,
    )
    from planner.engine.plan import Booking, Plan


class _Named(Protocol):
    @property
    def id(self) -> str: ...


_Record = TypeVar("_Record", bound=_Named)


@dataclass(frozen=True, slots=True)
class Facts:
    """Network and plan, indexed. Maps are by id.

    ``openings`` (by site) and ``shifts`` (by technician, with their index in the network) are in
    order of start; neither overlaps, as the network is sound. ``closed`` (by station) is a union.
    ``fixed`` and ``movable`` are the appointments by request, ``booked`` the first booking of each
    request.
    """

    network: Network
    plan: Plan
    profiles: dict[str, Profile]
    sites: dict[str, Site]
    stations: dict[str, Station]
    technicians: dict[str, Technician]
    requests: dict[str, Request]
    care: dict[str, Care]
    openings: dict[str, list[Span]]
    closed: dict[str, list[Span]]
    shifts: dict[str, list[tuple[int, int, Shift]]]
    fixed: dict[str, Appointment]
    movable: dict[str, Appointment]
    booked: dict[str, Booking]

    def site_of(self, booking: Booking) -> str:
        """Where the booking takes place: its station's site, else the site that it names."""
        station = self.stations.get(booking.station)
        return station.site if station else booking.site

    def profile_at(self, request: Request, site: str) -> str:
        """The id of the profile that the request has at ``site``."""
        for choice in request.sites:
            if choice.site == site and choice.profile is not None:
                return choice.profile
        return request.profile

    def is_fixed(self, booking: Booking) -> bool:
        """Whether this is a fixed appointment, unchanged: nothing that the run decided."""
        stands = self.fixed.get(booking.request)
        return stands is not None and same_place_and_time(booking, stands)

    def opening_at(self, site: str, minute: int) -> Span | None:
        """The last opening time of ``site`` that begins at or before ``minute``."""
        spans = self.openings.get(site, [])
        index = bisect_right(spans, minute, key=lambda span: span[0]) - 1
        return spans[index] if index >= 0 else None

    def shift_at(self, technician: str, minute: int) -> tuple[int, Shift] | None:
        """Index and shift of ``technician`` in which ``minute`` lies."""
        shifts = self.shifts.get(technician, [])
        index = bisect_right(shifts, minute, key=lambda entry: entry[0]) - 1
        if index < 0 or shifts[index][2].end <= minute:
            return None
        return shifts[index][1], shifts[index][2]

    def date(self, day: int) -> str:
        """The date of a day number; ``day N`` where the calendar has none."""
        try:
            return day_text(day, self.network.first_day)
        except OverflowError:
            return f"day {day}"

    def at(self, minute: int) -> str:
        """The wall-clock time of a minute number; ``minute N`` where the calendar has none."""
        try:
            return minute_text(minute, self.network.first_day)
        except OverflowError:
            return f"minute {minute}"

    def span(self, start: int, minutes: int) -> str:
        """``from T to T`` of a planned time."""
        return f"from {self.at(start)} to {self.at(start + minutes)}"


def same_place_and_time(booking: Booking, appointment: Appointment) -> bool:
    """Whether station, technician, start and minutes are those of the appointment."""
    return (booking.station, booking.technician, booking.start, booking.minutes) == (
        appointment.station,
        appointment.technician,
        appointment.start,
        appointment.minutes,
    )


def gather(network: Network, plan: Plan) -> Facts:
    """Index a network and a plan; names that the network does not hold are no error here."""
    shifts: dict[str, list[tuple[int, int, Shift]]] = defaultdict(list)
    for technician in network.technicians:
        entries = ((shift.start, index, shift) for index, shift in enumerate(technician.shifts))
        shifts[technician.id] = sorted(entries, key=lambda entry: entry[:2])
    booked: dict[str, Booking] = {}
    for booking in plan.bookings:
        booked.setdefault(booking.request, booking)
    return Facts(
        network=network,
        plan=plan,
        profiles=_by_id(network.profiles),
        sites=_by_id(network.sites),
        stations=_by_id(network.stations),
        technicians=_by_id(network.technicians),
        requests=_by_id(network.requests),
        care=_by_id(network.care),
        openings={
            site.id: sorted((window.start, window.end) for window in site.open)
            for site in network.sites
        },
        closed={
            station.id: union((closure.start, closure.end) for closure in station.closed)
            for station in network.stations
        },
        shifts=shifts,
        fixed={item.request: item for item in network.appointments if item.fixed},
        movable={item.request: item for item in network.appointments if not item.fixed},
        booked=booked,
    )


def _by_id(records: Iterable[_Record]) -> dict[str, _Record]:
    return {record.id: record for record in records}
