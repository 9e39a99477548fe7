"""Small networks by hand for the tests of the booking run."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Any

from planner.engine.booking import Options, Progress, plan
from planner.engine.network import (
    Appointment,
    Capture,
    Care,
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
from planner.engine.plan import Plan
from planner.engine.units import DAY

COST = Cost(30.0, 3.0, 0.1, 0.01, 2.0)
USUAL = Policy(15, 0.10, 20, 0.05, COST)
EXACT = Policy(4, 0.0, 0, 0.0, COST)
"""With sessions of certain length and a grain of 5, a promise that every plan keeps."""
FULL = Profile(
    "full",
    Setup(7.0, 3.0),
    (Capture("plain", 3, 20.0, 0.1), Capture("rolled", 10, 25.0, 0.16)),
    3,
    30.0,
    3,
    0.08,
)


def at(hours: int, minutes: int = 0, day: int = 0) -> int:
    """The minute number of a wall-clock time."""
    return day * DAY + hours * 60 + minutes


def certain_profile(minutes: int, skills: tuple[str, ...] = ()) -> Profile:
    """Sessions of exactly so many minutes; its id is ``m`` and the minutes."""
    return Profile(f"m{minutes}", Setup(float(minutes), 0.0), (), 1, 0.0, 0, 0.0, skills)


def site(name: str = "hall", *opens: tuple[int, int], zone: str = "Europe/Madrid") -> Site:
    """A site with opening times in network minutes."""
    return Site(name, name.title(), zone, tuple(Window(*span) for span in opens))


def technician(
    name: str, *shifts: tuple[str, int, int] | Shift, skills: tuple[str, ...] = ()
) -> Technician:
    """A technician with shifts (site, from, to) without a break, or ready-made ones."""
    made = tuple(
        item if isinstance(item, Shift) else Shift(item[0], item[1], item[2], 0, item[1], item[2])
        for item in shifts
    )
    return Technician(name, skills, made)


def rested(
    where: str, start: int, end: int, minutes: int, window: tuple[int, int] | None = None
) -> Shift:
    """A shift with a break."""
    low, high = window or (start, end)
    return Shift(where, start, end, minutes, low, high)


def request(name: str, profile: str, *where: str | SiteChoice, **further: Any) -> Request:
    """A request of weight 1, released on day 0 and due on day 9."""
    values: dict[str, Any] = {"release": 0, "due": 9, "weight": 1.0} | further
    sites = tuple(SiteChoice(item, 0) if isinstance(item, str) else item for item in where)
    return Request(id=name, profile=profile, sites=sites, **values)


def network(
    sites: tuple[Site, ...],
    stations: tuple[Station, ...],
    technicians: tuple[Technician, ...],
    requests: tuple[Request, ...],
    *,
    profiles: tuple[Profile, ...] = (certain_profile(20),),
    policy: Policy = EXACT,
    days: int = 1,
    care: tuple[Care, ...] = (),
    appointments: tuple[Appointment, ...] = (),
    reserve: tuple[Reserve, ...] = (),
) -> Network:
    """A network of grain 5 that begins on a Monday."""
    return Network(
        grain=5,
        first_day=date(2026, 3, 2),
        days=days,
        policy=policy,
        profiles=profiles,
        sites=sites,
        stations=stations,
        technicians=technicians,
        requests=requests,
        care=care,
        appointments=appointments,
        reserve=reserve,
    )


def one_desk(
    requests: tuple[Request, ...], start: int = at(9), end: int = at(17), **further: Any
) -> Network:
    """One site ``hall``, one station ``desk`` and one technician ``anna`` there, one day."""
    return network(
        (site("hall", (start, end)),),
        (Station("desk", "hall"),),
        (technician("anna", ("hall", start, end)),),
        requests,
        **further,
    )


@dataclass(slots=True)
class Listener:
    """Hears the progress and asks to end once a stage has been told ``times`` times."""

    stage: str = ""
    times: int = 1
    heard: list[Progress] = field(default_factory=list)

    def report(self, progress: Progress) -> None:
        self.heard.append(progress)

    def stopped(self) -> bool:
        return sum(item.stage == self.stage for item in self.heard) >= self.times


def plan_and_proof(given: Network, options: Options) -> tuple[Plan, float]:
    """The plan, and the bound as proven: the plan states it cut to its own cost."""
    listener = Listener()
    found = plan(given, options, listener)
    return found, max(item.bound for item in listener.heard if item.bound is not None)
