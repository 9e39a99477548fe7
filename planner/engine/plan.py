"""The plan: what the engine decides. Times are minutes and dates days since ``first_day``."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Booking:
    """One subject at one station with one technician.

    ``start`` is planned to the minute, ``told`` is what the subject hears (``start`` rounded down
    to the grain), ``minutes`` the planned length, ``p_wait`` the probability of waiting more than
    the policy's ``wait_minutes`` after ``told``.
    """

    request: str
    site: str
    station: str
    technician: str
    start: int
    told: int
    minutes: int
    p_wait: float


@dataclass(frozen=True, slots=True)
class CarePlaced:
    """Scanner care at ``start``, with a technician where one is needed."""

    care: str
    start: int
    technician: str | None = None


@dataclass(frozen=True, slots=True)
class CareUnplaced:
    """Care that a re-plan had to leave out, and why."""

    care: str
    reason: str


@dataclass(frozen=True, slots=True)
class Break:
    """A technician's break."""

    technician: str
    start: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a request is not booked: a code from a small list, the detail, the nearest remedy."""

    code: str
    detail: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Unbooked:
    """A request left out, with at least one reason."""

    request: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Price:
    """What one more minute would save at a site, on a day, in a part (``am``, ``pm``, ``day``).

    ``skilled`` and ``featured`` hold the further prices: (word, cost per minute) of a technician
    with that skill, or of a station with that feature.
    """

    site: str
    day: int
    part: str
    station_minute: float
    technician_minute: float
    skilled: tuple[tuple[str, float], ...] = ()
    featured: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan. ``lengths`` and ``seconds`` are (name, value) by profile and by stage.

    ``bound`` is at most the cost of any plan that keeps rules 1 to 8 with these ``lengths``;
    ``gap`` is (objective - bound) / bound, None where the bound is 0.
    """

    bookings: tuple[Booking, ...]
    care: tuple[CarePlaced, ...]
    care_unplaced: tuple[CareUnplaced, ...]
    breaks: tuple[Break, ...]
    unbooked: tuple[Unbooked, ...]
    moved: tuple[str, ...]
    lengths: dict[str, int]
    objective: float
    bound: float
    gap: float | None
    prices: tuple[Price, ...] = ()
    seconds: dict[str, float] = field(default_factory=dict)
