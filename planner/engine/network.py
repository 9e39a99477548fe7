"""The network: everything a planning run needs, frozen, and refusing to exist if it is wrong.

Times are minutes and dates are days since ``first_day`` (see `units`); intervals are half-open.
The file form is read and written by `codec`; the rules a network keeps are in `network_rules`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from planner.engine.errors import FileRefused
from planner.engine.network_rules import network_faults


@dataclass(frozen=True, slots=True)
class Window:
    """Minutes ``[start, end)``."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Closure:
    """A time ``[start, end)`` in which a station takes nobody, and why."""

    start: int
    end: int
    why: str


@dataclass(frozen=True, slots=True)
class Cost:
    """What the objective charges; see ``MODEL.md``. All are at least 0."""

    unbooked: float
    late_day: float
    wait_day: float
    travel_minute: float
    move: float


@dataclass(frozen=True, slots=True)
class Policy:
    """The two promises (minutes and risk in [0, 1]) and the costs."""

    wait_minutes: int
    wait_risk: float
    overtime_minutes: int
    overtime_risk: float
    cost: Cost


@dataclass(frozen=True, slots=True)
class Setup:
    """Identity check, data entry, hands made ready: mean and standard deviation in minutes."""

    mean: float
    sd: float


@dataclass(frozen=True, slots=True)
class Capture:
    """``count`` captures of one kind (``plain`` or ``rolled``): seconds an attempt, P(retake)."""

    kind: str
    count: int
    seconds: float
    retake: float


@dataclass(frozen=True, slots=True)
class Profile:
    """A kind of capture session; ``remedy_seconds`` in seconds, ``wrapup`` in minutes."""

    id: str
    setup: Setup
    captures: tuple[Capture, ...]
    max_attempts: int
    remedy_seconds: float
    wrapup: int
    no_show: float
    skills: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Site:
    """A place; ``open`` holds its opening times, each within one day."""

    id: str
    name: str
    timezone: str
    open: tuple[Window, ...] = ()


@dataclass(frozen=True, slots=True)
class Station:
    """A desk with one scanner, what it offers and when it is closed."""

    id: str
    site: str
    features: tuple[str, ...] = ()
    closed: tuple[Closure, ...] = ()


@dataclass(frozen=True, slots=True)
class Shift:
    """A technician's time ``[start, end)`` at a site.

    ``break_minutes`` 0 means no break; the break lies inside ``[break_start, break_end]``, which
    is the whole shift where the file gives no window.
    """

    site: str
    start: int
    end: int
    break_minutes: int
    break_start: int
    break_end: int


@dataclass(frozen=True, slots=True)
class Technician:
    """Takes the prints; ``skills`` are words that requests and profiles ask for."""

    id: str
    skills: tuple[str, ...] = ()
    shifts: tuple[Shift, ...] = ()


@dataclass(frozen=True, slots=True)
class Care:
    """Scanner care to be placed on a day in ``[earliest, latest]`` (days, both included)."""

    id: str
    station: str
    minutes: int
    earliest: int
    latest: int
    technician: bool


@dataclass(frozen=True, slots=True)
class SiteChoice:
    """A site where a request may be served: travel in minutes, the profile there if another."""

    site: str
    travel: int
    profile: str | None = None


@dataclass(frozen=True, slots=True)
class Request:
    """A subject to book. ``available`` empty means any time; ``unbooked`` replaces the policy's."""

    id: str
    profile: str
    release: int
    due: int
    weight: float
    sites: tuple[SiteChoice, ...]
    rework: bool = False
    available: tuple[Window, ...] = ()
    features: tuple[str, ...] = ()
    skills: tuple[str, ...] = ()
    unbooked: float | None = None


@dataclass(frozen=True, slots=True)
class Appointment:
    """What is booked already; a ``fixed`` one stays where it is."""

    id: str
    request: str
    station: str
    technician: str
    start: int
    minutes: int
    fixed: bool


@dataclass(frozen=True, slots=True)
class Reserve:
    """Minutes of a site-day's room that only rework may use."""

    site: str
    day: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Network:
    """Everything a planning run needs.

    Raises
    ------
    FileRefused
        With every fault found, each with the path of the value and the remedy.
    """

    grain: int
    first_day: date
    days: int
    policy: Policy
    profiles: tuple[Profile, ...]
    sites: tuple[Site, ...]
    stations: tuple[Station, ...]
    technicians: tuple[Technician, ...]
    requests: tuple[Request, ...]
    care: tuple[Care, ...] = ()
    appointments: tuple[Appointment, ...] = ()
    reserve: tuple[Reserve, ...] = ()

    def __post_init__(self) -> None:
        faults = network_faults(self)
        if faults:
            raise FileRefused(faults)
