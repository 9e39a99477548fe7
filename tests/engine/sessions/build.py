"""Small values for the tests about sessions."""

from __future__ import annotations

from datetime import date

from planner.engine.network import (
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
from planner.engine.plan import Booking

USUAL = Policy(15, 0.10, 20, 0.05, Cost(30, 3, 0.1, 0.01, 2))


def promise(wait: int, wait_risk: float, overtime: int, overtime_risk: float) -> Policy:
    return Policy(wait, wait_risk, overtime, overtime_risk, USUAL.cost)


def profile(
    setup: tuple[float, float] = (7, 3),
    captures: tuple[tuple[int, float, float], ...] = ((3, 20, 0.10), (10, 25, 0.16)),
    *,
    attempts: int = 3,
    remedy: float = 30,
    wrapup: int = 3,
    no_show: float = 0.08,
    name: str = "usual",
) -> Profile:
    """``captures`` as (count, seconds, retake)."""
    kinds = [Capture("rolled" if i else "plain", *rest) for i, rest in enumerate(captures)]
    return Profile(name, Setup(*setup), tuple(kinds), attempts, remedy, wrapup, no_show)


# Three kinds of session whose figures were computed by a program that shares nothing with this one.
STANDARD = profile()
WORN = profile((8, 3), ((3, 20, 0.25), (10, 25, 0.35)), no_show=0.06, name="worn")
HARD = profile((11, 5), ((3, 25, 0.30), (10, 30, 0.40)), remedy=50, no_show=0.05, name="hard")


def fixed(minutes: int, name: str = "fixed", no_show: float = 0.0) -> Profile:
    """A session of exactly so many minutes."""
    return profile((minutes, 0), (), wrapup=0, no_show=no_show, name=name)


def bare(mean: float, sd: float, name: str = "bare") -> Profile:
    """A session that is a gamma distributed setup and nothing else."""
    return profile((mean, sd), (), wrapup=0, no_show=0.0, name=name)


def one_desk(
    profiles: tuple[Profile, ...],
    requests: dict[str, str],
    *,
    opens: tuple[Window, ...] = (Window(480, 960),),
    closed: tuple[Closure, ...] = (),
    care: tuple[Care, ...] = (),
    policy: Policy = USUAL,
) -> Network:
    """One site, one station, one technician on shift in every opening time; 3 days.

    ``requests`` gives the profile of each.
    """
    shifts = tuple(Shift("site", w.start, w.end, 0, w.start, w.end) for w in opens)
    return Network(
        grain=5,
        first_day=date(2030, 1, 7),
        days=3,
        policy=policy,
        profiles=profiles,
        sites=(Site("site", "Site", "UTC", opens),),
        stations=(Station("desk", "site", (), closed),),
        technicians=(Technician("tech", (), shifts),),
        requests=tuple(
            Request(key, kind, 0, 2, 1.0, (SiteChoice("site", 0),))
            for key, kind in requests.items()
        ),
        care=care,
    )


def book(request: str, start: int, minutes: int = 20) -> Booking:
    """A booking at the one desk, told on a grain of 5."""
    return Booking(request, "site", "desk", "tech", start, start - start % 5, minutes, 0.0)
