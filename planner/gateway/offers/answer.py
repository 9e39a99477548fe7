"""What is told of free times: in the record's own words, days and wall clocks."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner.engine.booking.offers import Displacement, Held, Offer
from planner.engine.plan import Reason
from planner.engine.units import DAY
from planner.gateway.offers.desk import SiteDesk
from sites.models import Site

NOT_PRICED = "not priced"
"""Where no planning run has looked at the day: nobody knows what its minutes are worth."""


@dataclass(frozen=True, slots=True)
class Time:
    """A free time. ``minute`` and ``told`` are past midnight of ``day`` on the site's clock.

    ``kept`` is the chance of being seen within the promised wait after ``told``; ``level`` says
    what its minutes are worth to others; ``late`` are days after the due date, 0 on time;
    ``cost`` and ``price`` rank it. ``now`` marks the place that the request has already.
    """

    site: Site
    station: str
    technician: str
    day: date
    minute: int
    told: int
    minutes: int
    travel: int
    kept: float
    level: str
    late: int
    cost: float
    price: float
    why: str
    now: bool = False

    @property
    def key(self) -> str:
        """What a form sends to take this time: the place and what the person is told."""
        return f"{self.site.code}|{self.day.isoformat()}|{self.told}"

    @property
    def rank(self) -> tuple[float, float, date, int, str]:
        """Best first: by cost, price, told time."""
        return self.cost, self.price, self.day, self.told, self.site.code


@dataclass(frozen=True, slots=True)
class Given:
    """A time that is free once somebody else moves: whose request, from when, to when."""

    time: Time
    other: str
    was_day: date
    was_told: int
    to: Time
    extra: float

    @property
    def cost(self) -> float:
        """What both cost."""
        return self.time.cost + self.extra


@dataclass(frozen=True, slots=True)
class HeldBack:
    """A time that only the day's reserve for rework keeps from the request, and by how much."""

    time: Time
    short: int


@dataclass(frozen=True, slots=True)
class Standby:
    """A day on which somebody may not come, with the chance that a place comes free."""

    site: Site
    day: date
    places: int
    chance: float


@dataclass(frozen=True, slots=True)
class Answer:
    """All that can be said to one caller.

    ``times`` best first; the rest where they are few or all late. ``first`` and ``last`` are the
    days that were looked at; ``skills`` those that technicians there hold.
    """

    times: tuple[Time, ...]
    given: tuple[Given, ...]
    held: HeldBack | None
    standby: tuple[Standby, ...]
    first: date
    last: date
    sites: tuple[Site, ...]
    skills: tuple[str, ...]
    reasons: tuple[Reason, ...] = ()


def time_of(where: SiteDesk, offer: Offer, moves: float = 0.0) -> Time:
    """An offer of a desk; ``moves`` is what leaving a place at another site costs."""
    day, minute = where.horizon.reading(offer.start)
    priced = offer.start // DAY in where.book.priced
    return Time(
        site=where.site,
        station=offer.station,
        technician=offer.technician,
        day=day,
        minute=minute,
        told=offer.told - offer.start // DAY * DAY,
        minutes=offer.minutes,
        travel=offer.travel,
        kept=1 - offer.p_wait,
        level=offer.level if priced else NOT_PRICED,
        late=offer.delay_days,
        cost=offer.cost + moves,
        price=offer.price,
        why=offer.why,
        now=offer.current,
    )


def given_of(where: SiteDesk, found: Displacement, moves: float = 0.0) -> Given:
    """A displacement of a desk."""
    day, told = where.horizon.reading(found.booking.told)
    return Given(
        time_of(where, found.offer, moves),
        found.booking.request,
        day,
        told,
        time_of(where, found.to),
        found.extra,
    )


def held_of(where: SiteDesk, found: Held, moves: float = 0.0) -> HeldBack:
    """A held time of a desk."""
    return HeldBack(time_of(where, found.offer, moves), found.short)
