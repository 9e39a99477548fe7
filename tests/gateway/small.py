"""A small network and a plan for it, written by hand: two sites, two days, every kind of thing."""

from __future__ import annotations

from datetime import date

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

TUESDAY = date(2027, 3, 9)
NINE, SEVENTEEN = 9 * 60, 17 * 60


def small_network() -> Network:
    """Harbour Street opens on both days, North Gate (in another zone) on the second only."""
    usual = Profile(
        "usual", Setup(7, 3), (Capture("plain", 3, 20, 0.1), Capture("rolled", 10, 25, 0.16)),
        3, 30, 3, 0.08,
    )  # fmt: skip
    return Network(
        grain=5,
        first_day=TUESDAY,
        days=2,
        policy=Policy(15, 0.10, 20, 0.05, Cost(30, 3, 0.1, 0.01, 2)),
        profiles=(usual,),
        sites=(
            Site(
                "harbour",
                "Harbour Street",
                "Europe/Lisbon",
                (Window(NINE, SEVENTEEN), Window(DAY + NINE, DAY + SEVENTEEN)),
            ),
            Site("north", "North Gate", "Asia/Kolkata", (Window(DAY + NINE, DAY + SEVENTEEN),)),
        ),
        stations=(
            Station("H1", "harbour", ("accessible",)),
            Station("H2", "harbour", (), (Closure(NINE, NINE + 60, "calibration"),)),
            Station("N1", "north"),
        ),
        technicians=(
            Technician("ada", (), (Shift("harbour", NINE, SEVENTEEN, 30, 11 * 60, 14 * 60),)),
            Technician("bo", (), (Shift("harbour", 10 * 60, 16 * 60, 0, 10 * 60, 16 * 60),)),
        ),
        requests=(
            Request("r1", "usual", 0, 1, 1.0, (SiteChoice("harbour", 10),)),
            Request("r2", "usual", 0, 1, 1.0, (SiteChoice("harbour", 10),), rework=True),
            Request("r3", "usual", -3, -1, 1.0, (SiteChoice("harbour", 10),)),
            Request("=r4", "usual", 0, 1, 2.0, (SiteChoice("north", 5), SiteChoice("harbour", 9))),
        ),
        care=(Care("clean-H1", "H1", 30, 0, 1, True),),
        appointments=(Appointment("a1", "r3", "H2", "bo", 10 * 60 + 3, 20, True),),
    )


def small_plan() -> Plan:
    """Three sessions at Harbour Street on the first day; ``=r4`` is left out."""
    return Plan(
        bookings=(
            Booking("r1", "harbour", "H1", "ada", NINE, NINE, 18, 0.012),
            Booking("r2", "harbour", "H1", "ada", NINE + 18, NINE + 15, 18, 0.0734),
            Booking("r3", "harbour", "H2", "bo", 10 * 60 + 3, 10 * 60, 20, 0.2),
        ),
        care=(CarePlaced("clean-H1", 13 * 60, "ada"),),
        care_unplaced=(),
        breaks=(Break("ada", 12 * 60, 30),),
        unbooked=(
            Unbooked(
                "=r4", (Reason("no_technician", "nobody works at North Gate", "add a shift"),)
            ),
        ),
        moved=(),
        lengths={"usual": 18},
        objective=66.5,
        bound=60.0,
        gap=6.5 / 60,
        seconds={"read": 0.1, "plan": 1.25},
    )


def small_ends() -> dict[str, tuple[int, int]]:
    """Likely ends, by hand."""
    return {"r1": (NINE + 12, NINE + 23), "r2": (NINE + 30, NINE + 43)}
