"""A small network and a plan that keeps every rule, both by hand, and tools to change them.

Monday 2 and Tuesday 3 March 2026; station by station:

    north, Monday    n1  r3 9:12-9:24  r5 9:30-9:50  r1 10:00-10:18 (fixed)  closed 11:00-11:30
                     n2  r2 10:00-10:20  c1 14:00-14:20  r8 15:00-15:24
    north, Tuesday   n1  r7 9:00-9:12
    south, Tuesday   s1  r4 10:00-10:20 (rework)  c2 15:00-15:30
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from planner.engine.network import (
    Appointment,
    Capture,
    Care,
    Closure,
    Cost,
    Network,
    Policy,
    Profile,
    Request,
    Reserve,
    Setup,
    Shift,
    Site,
    SiteChoice,
    Station,
    Technician,
    Window,
)
from planner.engine.plan import Booking, Break, CarePlaced, Plan, Reason, Unbooked
from planner.engine.units import DAY

PLAIN = Capture("plain", 3, 20.0, 0.1)
ROLLED = Capture("rolled", 10, 25.0, 0.16)


def at(hours: int, minutes: int = 0, day: int = 0) -> int:
    """The minute number of a wall-clock time."""
    return day * DAY + hours * 60 + minutes


def shift(
    site: str, start: int, end: int, rest: int = 0, window: tuple[int, int] | None = None
) -> Shift:
    """A shift with a break of ``rest`` minutes in ``window``."""
    since, until = window or (start, end)
    return Shift(site, start, end, rest, since, until)


def request(name: str, *sites: SiteChoice, **further: Any) -> Request:
    """A request of the profile ``full``, released on Monday and due on Friday, of weight 1."""
    values: dict[str, Any] = {"profile": "full", "release": 0, "due": 4, "weight": 1.0} | further
    return Request(id=name, sites=sites, **values)


NETWORK = Network(
    grain=5,
    first_day=date(2026, 3, 2),
    days=2,
    policy=Policy(15, 0.10, 20, 0.05, Cost(30.0, 3.0, 0.1, 0.01, 2.0)),
    profiles=(
        Profile("flats", Setup(4.0, 1.0), (PLAIN,), 3, 30.0, 2, 0.08),
        Profile("full", Setup(7.0, 3.0), (PLAIN, ROLLED), 3, 30.0, 3, 0.08),
        Profile("learnt", Setup(8.0, 3.0), (PLAIN, ROLLED), 3, 30.0, 3, 0.06, ("worn_ridges",)),
    ),
    sites=(
        Site(
            "north",
            "North Hall",
            "Europe/Madrid",
            (
                Window(at(9), at(13)),
                Window(at(13), at(17)),
                Window(at(9, day=1), at(17, day=1)),
            ),
        ),
        Site(
            "south",
            "South Quay",
            "Atlantic/Canary",
            (Window(at(10), at(16)), Window(at(9, day=1), at(17, day=1))),
        ),
    ),
    stations=(
        Station("n1", "north", ("accessible",), (Closure(at(11), at(11, 30), "calibration"),)),
        Station("n2", "north"),
        Station("s1", "south"),
    ),
    technicians=(
        Technician(
            "t1",
            ("worn_ridges", "sign_language"),
            (
                shift("north", at(9), at(17), 30, (at(12), at(14))),
                shift("south", at(9, day=1), at(17, day=1)),
            ),
        ),
        Technician(
            "t2",
            (),
            (
                shift("north", at(9), at(16)),
                shift("north", at(9, day=1), at(17, day=1), 30, (at(12, day=1), at(14, day=1))),
                # after the horizon: its break need not be planned
                shift("north", at(9, day=2), at(17, day=2), 30),
            ),
        ),
        Technician(
            "t3",
            (),
            # its break comes before the site opens
            (shift("south", at(9, 30), at(16), 15, (at(9, 30), at(10))),),
        ),
    ),
    care=(
        Care("c1", "n2", 20, 0, 0, True),
        Care("c2", "s1", 30, 1, 3, False),
    ),
    requests=(
        request("r1", SiteChoice("north", 20), release=-2),
        request("r2", SiteChoice("north", 0), skills=("sign_language",)),
        request("r3", SiteChoice("north", 10), profile="flats"),
        request(
            "r4",
            SiteChoice("south", 35),
            SiteChoice("north", 50, "learnt"),
            rework=True,
            weight=1.5,
        ),
        request(
            "r5",
            SiteChoice("north", 5),
            features=("accessible",),
            available=(Window(at(9), at(12)), Window(at(12), at(15))),
        ),
        request("r6", SiteChoice("north", 0), unbooked=10.0, weight=2.0),
        request("r7", SiteChoice("north", 15), profile="flats", release=-1, due=0, weight=2.0),
        request("r8", SiteChoice("north", 50, "learnt"), profile="flats"),
        request("r9", SiteChoice("north", 0), weight=0.5),
    ),
    appointments=(
        Appointment("a1", "r1", "n1", "t2", at(10), 18, fixed=True),
        Appointment("a2", "r2", "n2", "t1", at(10), 20, fixed=False),
        Appointment("a3", "r3", "n2", "t1", at(9), 12, fixed=False),
        Appointment("a9", "r9", "n2", "t2", at(11), 20, fixed=False),
    ),
    reserve=(Reserve("north", 0, 750),),
)

FULL_UP = (Reason("full", "every day is worth more to others", "one more shift"),)

PLAN = Plan(
    bookings=(
        Booking("r1", "north", "n1", "t2", at(10), at(10), 18, 0.0),
        Booking("r2", "north", "n2", "t1", at(10), at(10), 20, 0.0),
        Booking("r3", "north", "n1", "t2", at(9, 12), at(9, 10), 12, 0.0),
        Booking("r4", "south", "s1", "t1", at(10, day=1), at(10, day=1), 20, 0.0),
        Booking("r5", "north", "n1", "t2", at(9, 30), at(9, 30), 20, 0.0),
        Booking("r7", "north", "n1", "t2", at(9, day=1), at(9, day=1), 12, 0.0),
        Booking("r8", "north", "n2", "t1", at(15), at(15), 24, 0.0),
    ),
    care=(CarePlaced("c1", at(14), "t2"), CarePlaced("c2", at(15, day=1))),
    care_unplaced=(),
    breaks=(
        Break("t1", at(12, 30), 30),
        Break("t2", at(12, 15, day=1), 30),
        Break("t3", at(9, 30), 15),
    ),
    unbooked=(Unbooked("r6", FULL_UP), Unbooked("r9", FULL_UP)),
    moved=("a3", "a9"),
    lengths={"flats": 12, "full": 20, "learnt": 24},
    objective=47.1,
    bound=40.0,
    gap=0.1775,
    seconds={"plan": 0.1},
)


def booked(plan: Plan, name: str, **changes: Any) -> Plan:
    """The plan with the booking of request ``name`` changed; told follows a changed start."""
    if "start" in changes:
        changes = {"told": changes["start"] // 5 * 5} | changes
    return replace(
        plan,
        bookings=tuple(
            replace(item, **changes) if item.request == name else item for item in plan.bookings
        ),
    )


def without(plan: Plan, name: str) -> Plan:
    """The plan with the booking of request ``name`` left out and nothing said about it."""
    return replace(plan, bookings=tuple(b for b in plan.bookings if b.request != name))


def cared(plan: Plan, name: str, **changes: Any) -> Plan:
    """The plan with the care ``name`` placed otherwise."""
    return replace(
        plan,
        care=tuple(replace(item, **changes) if item.care == name else item for item in plan.care),
    )


def rested(plan: Plan, name: str, **changes: Any) -> Plan:
    """The plan with the breaks of technician ``name`` changed."""
    return replace(
        plan,
        breaks=tuple(
            replace(item, **changes) if item.technician == name else item for item in plan.breaks
        ),
    )


def asked(network: Network, name: str, **changes: Any) -> Network:
    """The network with request ``name`` changed."""
    return replace(
        network,
        requests=tuple(
            replace(item, **changes) if item.id == name else item for item in network.requests
        ),
    )


def profiled(network: Network, name: str, **changes: Any) -> Network:
    """The network with profile ``name`` changed."""
    return replace(
        network,
        profiles=tuple(
            replace(item, **changes) if item.id == name else item for item in network.profiles
        ),
    )


def stationed(network: Network, name: str, **changes: Any) -> Network:
    """The network with station ``name`` changed."""
    return replace(
        network,
        stations=tuple(
            replace(item, **changes) if item.id == name else item for item in network.stations
        ),
    )
