"""What a plan would do to each request: one line each, grouped by what changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from planner.engine.booking.reasons import MEANING
from planner.engine.network import Appointment, Network, Request
from planner.engine.plan import Booking, Plan, Reason
from planner.engine.units import DAY, told


class Kind(StrEnum):
    """What would happen to a request."""

    NEW = "new"
    MOVED = "moved"
    LOSES = "loses"
    OUT = "out"
    STANDS = "stands"


WORDS = {
    Kind.NEW: "new",
    Kind.MOVED: "moved",
    Kind.LOSES: "lose their place",
    Kind.OUT: "left out",
    Kind.STANDS: "stay as they are",
}
CHANGES = (Kind.NEW, Kind.MOVED, Kind.LOSES)
"""Kinds that somebody decides on; the others change nothing in the record."""


@dataclass(frozen=True, slots=True)
class Where:
    """A place and a time: site's id and name, station, technician, day, minutes past midnight."""

    site: str
    name: str
    station: str
    technician: str
    day: date
    told: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Line:
    """One request: where it would be (``now``), where it is (``was``), or why it is left out.

    ``p_wait`` is the chance of waiting longer than promised, ``over`` whether that is above the
    promise, which only a fixed appointment can be.
    """

    request: str
    kind: Kind
    due: date
    rework: bool
    now: Where | None = None
    was: Where | None = None
    p_wait: float = 0.0
    over: bool = False
    reasons: tuple[Reason, ...] = ()

    @property
    def late_days(self) -> int:
        """Calendar days after the due date; 0 where it is in time or has no place."""
        return max(0, (self.now.day - self.due).days) if self.now else 0

    @property
    def why(self) -> str:
        """The meaning of the leading reason."""
        code = self.reasons[0].code if self.reasons else ""
        return MEANING.get(code, code.replace("-", " "))


def lines_of(network: Network, plan: Plan) -> tuple[Line, ...]:
    """A line for each request: bookings by time, then who is left out by due date."""
    requests = {item.id: item for item in network.requests}
    standing = {item.request: item for item in network.appointments}
    maker = _Maker(
        network,
        requests,
        standing,
        set(plan.moved),
        sites={item.id: item.name for item in network.sites},
        stations={item.id: item.site for item in network.stations},
    )
    booked = sorted(plan.bookings, key=lambda item: (item.told, item.site, item.station))
    out = sorted(plan.unbooked, key=lambda item: (requests[item.request].due, item.request))
    return (
        *(maker.booked(item) for item in booked),
        *(maker.left(item.request, item.reasons) for item in out),
    )


@dataclass(frozen=True, slots=True)
class _Maker:
    network: Network
    requests: dict[str, Request]
    standing: dict[str, Appointment]
    moved: set[str]
    sites: dict[str, str]
    stations: dict[str, str]

    def booked(self, item: Booking) -> Line:
        was = self.standing.get(item.request)
        kind = Kind.NEW if was is None else Kind.MOVED if was.id in self.moved else Kind.STANDS
        day, minute = divmod(item.told, DAY)
        return Line(
            request=item.request,
            kind=kind,
            due=self.date(self.requests[item.request].due),
            rework=self.requests[item.request].rework,
            now=Where(
                item.site,
                self.sites[item.site],
                item.station,
                item.technician,
                self.date(day),
                minute,
                item.minutes,
            ),
            was=self.where(was) if was is not None else None,
            p_wait=item.p_wait,
            over=item.p_wait > self.network.policy.wait_risk,
        )

    def left(self, name: str, reasons: tuple[Reason, ...]) -> Line:
        was = self.standing.get(name)
        return Line(
            request=name,
            kind=Kind.OUT if was is None else Kind.LOSES,
            due=self.date(self.requests[name].due),
            rework=self.requests[name].rework,
            was=self.where(was) if was is not None else None,
            reasons=reasons,
        )

    def where(self, item: Appointment) -> Where:
        site = self.stations[item.station]
        day, minute = divmod(told(item.start, self.network.grain), DAY)
        return Where(
            site,
            self.sites[site],
            item.station,
            item.technician,
            self.date(day),
            minute,
            item.minutes,
        )

    def date(self, day: int) -> date:
        return self.network.first_day + timedelta(days=day)
