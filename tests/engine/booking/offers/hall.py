"""A small hall whose plans are written by hand: sessions of certain length, nothing drawn."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from planner.engine.network import (
    Network,
    Policy,
    Profile,
    Request,
    Setup,
    Shift,
    Site,
    SiteChoice,
    Station,
    Technician,
    Window,
)
from planner.engine.plan import Booking, Plan, Reason, Unbooked
from planner.engine.units import told
from tests.engine.booking.build import COST, at
from tests.engine.booking.offers.brute import put_right

if TYPE_CHECKING:
    from planner.engine.booking.offers import Offer
    from planner.engine.plan import Price

FULL = Reason("full", "every place is taken", "none")
STRICT = Policy(4, 0.0, 0, 0.0, COST)
"""Nobody waits more than 4 minutes, nothing ends after closing: with certain lengths exact."""


def profile(minutes: int, no_show: float = 0.0) -> Profile:
    """Sessions of exactly so many minutes."""
    return Profile("plain", Setup(float(minutes), 0.0), (), 1, 0.0, 0, no_show)


def request(name: str, **further: Any) -> Request:
    """Somebody who can come to the hall on any day, due on the first."""
    values: dict[str, Any] = {
        "profile": "plain", "release": 0, "due": 0, "weight": 1.0,
        "sites": (SiteChoice("hall", 10),),
    } | further  # fmt: skip
    return Request(id=name, **values)


def hall(
    *requests: Request,
    days: int = 2,
    desks: int = 1,
    minutes: int = 20,
    no_show: float = 0.0,
    policy: Policy = STRICT,
    **further: Any,
) -> Network:
    """Open 9 to 10 each day, with so many stations d0, d1, ... and technicians t0, t1, ..."""
    opens = tuple(Window(at(9, day=day), at(10, day=day)) for day in range(days))
    shifts = tuple(Shift("hall", w.start, w.end, 0, w.start, w.end) for w in opens)
    values: dict[str, Any] = {
        "grain": 5,
        "first_day": date(2026, 3, 2),
        "days": days,
        "policy": policy,
        "profiles": (profile(minutes, no_show),),
        "sites": (Site("hall", "Hall", "Europe/Madrid", opens),),
        "stations": tuple(Station(f"d{k}", "hall") for k in range(desks)),
        "technicians": tuple(Technician(f"t{k}", (), shifts) for k in range(desks)),
        "requests": requests,
    } | further
    return Network(**values)


def booked(
    network: Network,
    *places: tuple[str, int],
    minutes: int = 20,
    prices: tuple[Price, ...] = (),
    desk: int = 0,
) -> Plan:
    """A plan with (request, start) at one desk and everybody else left out."""
    bookings = tuple(
        Booking(name, "hall", f"d{desk}", f"t{desk}", start, told(start, 5), minutes, 0.0)
        for name, start in places
    )
    names = {name for name, _ in places}
    unbooked = tuple(Unbooked(r.id, (FULL,)) for r in network.requests if r.id not in names)
    lengths = {item.id: minutes for item in network.profiles}
    plan = Plan(bookings, (), (), (), unbooked, (), lengths, 0.0, 0.0, None, prices)
    return put_right(network, replace(plan, prices=prices))


def as_booking(name: str, offer: Offer) -> Booking:
    """An offer taken."""
    return Booking(
        name, offer.site, offer.station, offer.technician, offer.start, offer.told,
        offer.minutes, offer.p_wait,
    )  # fmt: skip
