"""When the demo's sites are open, who works where, and when scanners are looked after."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

from planner.engine.network import Window
from planner.engine.rng import stream
from planner.engine.scenario.crew import shift_in
from planner.engine.scenario.demo_layout import SEATS, SITES, SeatPlan, SitePlan
from planner.gateway.demo.story import AWAY, CLOSED, DOWN, NEWCOMER

CLEANING_MINUTES = 30
CLEANING_EVERY = 14


@dataclass(frozen=True, slots=True)
class Turn:
    """A technician's shift on one day; minutes past midnight at the site."""

    seat: SeatPlan
    start: int
    end: int
    rest: int
    rest_from: int
    rest_to: int


@dataclass(slots=True)
class SiteDay:
    """One open day of a site; ``care`` and ``down`` are [from, to) by station."""

    plan: SitePlan
    day: date
    windows: list[tuple[int, int]]
    turns: list[Turn] = field(default_factory=list)
    away: list[Turn] = field(default_factory=list)
    calibration: dict[str, tuple[int, int]] = field(default_factory=dict)
    cleaning: dict[str, tuple[int, int]] = field(default_factory=dict)
    down: dict[str, str] = field(default_factory=dict)

    @property
    def stations(self) -> list[str]:
        """The site's stations that are in use that day."""
        names = (f"{self.plan.id}-{n + 1}" for n in range(len(self.plan.features)))
        return [name for name in names if name not in self.down]


def closed_days(today: date) -> dict[date, str]:
    """Days on which everything is shut, and why."""
    return {
        today - timedelta(days=before - n): why for before, days, why in CLOSED for n in range(days)
    }


def calendar(today: date, past: int, ahead: int, seed: int) -> dict[date, list[SiteDay]]:
    """Every day from ``past`` days before today to ``ahead`` after it, with its open sites."""
    rng = stream(seed, "calendar")
    shut = closed_days(today)
    found: dict[date, list[SiteDay]] = {}
    for offset in range(-past, ahead):
        day = today + timedelta(days=offset)
        found[day] = []
        for plan in SITES:
            windows = plan.hours.get(day.weekday())
            if not windows or day in shut:
                continue
            here = SiteDay(plan, day, list(windows))
            here.down = {
                name: why
                for name, before, why in DOWN
                if name.startswith(plan.id) and today - timedelta(days=before) == day
            }
            for seat in SEATS:
                turn = turn_of(seat, plan, day, today)
                if turn is not None:
                    ill = offset < 0 and rng.random() < AWAY
                    (here.away if ill else here.turns).append(turn)
            look_after(here, offset)
            found[day].append(here)
    return found


def turn_of(seat: SeatPlan, plan: SitePlan, day: date, today: date) -> Turn | None:
    """The shift of a seat at a site on a day, if it works there then."""
    if not any(site == plan.id and day.weekday() in days for site, days in seat.works):
        return None
    if seat.id == NEWCOMER.technician and day < today - timedelta(days=NEWCOMER.begins):
        return None
    windows = [Window(*window) for window in plan.hours[day.weekday()]]
    shift = shift_in(plan.id, windows, late=seat.late, short=seat.short)
    return Turn(
        seat, shift.start, shift.end, shift.break_minutes, shift.break_start, shift.break_end
    )


def look_after(here: SiteDay, offset: int) -> None:
    """Calibration as the site does it, and a cleaning every second week, in the early afternoon."""
    weekday, at_end, minutes = here.plan.calibration
    if weekday in (None, here.day.weekday()):
        opens, closes = here.windows[0][0], here.windows[-1][1]
        start = closes - minutes if at_end else opens
        for name in here.stations:
            here.calibration[name] = (start, start + minutes)
    week = here.day.toordinal() // 7
    first = min(here.plan.hours)
    for number, name in enumerate(here.stations):
        if offset < 0 and (week + number) % 2 == 0 and here.day.weekday() == first:
            here.cleaning[name] = (840, 840 + CLEANING_MINUTES)
