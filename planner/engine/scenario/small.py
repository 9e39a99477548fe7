"""Tiny networks, each with one thing to show."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.engine.network import (
    Appointment,
    Care,
    Closure,
    Network,
    Request,
    Shift,
    Site,
    SiteChoice,
    Station,
    Technician,
    Window,
)
from planner.engine.scenario.assemble import FIRST_DAY
from planner.engine.scenario.profiles import FULL_SET, GRAIN, REWORK, USUAL_POLICY
from planner.engine.units import DAY

if TYPE_CHECKING:
    from collections.abc import Callable

_OPENS, _CLOSES = 540, 780
_SITE = "quodinock"
_MINUTES = 18
"""Planned minutes of `FULL_SET` under the usual policy."""


def empty() -> Network:
    """No site, no station, nobody to book."""
    return Network(GRAIN, FIRST_DAY, 1, USUAL_POLICY, (), (), (), (), ())


def one_station() -> Network:
    """One station for two mornings, one technician, eight requests: all fit."""
    return _network(8)


def no_technician() -> Network:
    """As `one_station`, but nobody works on the first day, and two requests are free only then."""
    return _network(8, working=(1,), first_day_only=2)


def impossible_fixed() -> Network:
    """Two fixed appointments that take the same station at the same time."""
    return _network(
        4,
        appointments=(
            Appointment("a1", "r1", f"{_SITE}-1", "sarmu-1", 600, _MINUTES, fixed=True),
            Appointment("a2", "r2", f"{_SITE}-1", "sarmu-1", 610, _MINUTES, fixed=True),
        ),
    )


def impossible_care() -> Network:
    """Care of 30 minutes with a technician, due on a day on which nobody works."""
    return _network(4, working=(1,), care=(Care("c1", f"{_SITE}-1", 30, 0, 0, technician=True),))


def _network(
    requests: int,
    *,
    working: tuple[int, ...] = (0, 1),
    first_day_only: int = 0,
    care: tuple[Care, ...] = (),
    appointments: tuple[Appointment, ...] = (),
) -> Network:
    """One station over two mornings; one technician on the days ``working``.

    The last request is rework, the first ``first_day_only`` are free on the first morning only.
    """
    mornings = [Window(day * DAY + _OPENS, day * DAY + _CLOSES) for day in (0, 1)]
    calibration = Closure(_OPENS, _OPENS + 15, "calibration")
    shifts = tuple(
        Shift(_SITE, day.start, day.end, 15, day.start + 90, day.start + 180)
        for day in (mornings[index] for index in working)
    )
    return Network(
        grain=GRAIN,
        first_day=FIRST_DAY,
        days=2,
        policy=USUAL_POLICY,
        profiles=(FULL_SET, REWORK),
        sites=(Site(_SITE, "Quodinock", "America/New_York", tuple(mornings)),),
        stations=(Station(f"{_SITE}-1", _SITE, ("accessible",), (calibration,)),),
        technicians=(Technician("sarmu-1", ("difficult_capture",), shifts),),
        requests=tuple(
            Request(
                id=f"r{number}",
                profile=(REWORK if number == requests else FULL_SET).id,
                release=0,
                due=number % 2,
                weight=1,
                sites=(SiteChoice(_SITE, 5 * number),),
                rework=number == requests,
                available=(mornings[0],) if number <= first_day_only else (),
            )
            for number in range(1, requests + 1)
        ),
        care=care,
        appointments=appointments,
    )


SMALL: dict[str, Callable[[], Network]] = {
    "empty": empty,
    "one-station": one_station,
    "no-technician": no_technician,
    "impossible-fixed": impossible_fixed,
    "impossible-care": impossible_care,
}
