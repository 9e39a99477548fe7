"""The demo's sites, stations and technicians, written by hand; all of it is invented.

Six sites in three time zones, 14 stations, 13 technicians. Weekdays count from Monday, 0; times
are minutes past midnight.
"""

from __future__ import annotations

from dataclasses import dataclass

from planner.engine.scenario.profiles import Rates

DAYS = 21
HOLIDAY = 7
"""The second Monday: three sites stay shut."""

_ACCESSIBLE = ("accessible", "step_free")
_TALL = ("adjustable_height",)


@dataclass(frozen=True, slots=True)
class SitePlan:
    """One site: see `scenario.places.Place` for ``x``, ``y``, ``appeal`` and ``rates``.

    ``hours`` maps a weekday to its (from, to) times; ``features`` has one entry a station;
    ``calibration`` is (weekday or None for daily, at the end of the day?, minutes).
    """

    id: str
    name: str
    timezone: str
    x: float
    y: float
    appeal: float
    rates: Rates
    hours: dict[int, tuple[tuple[int, int], ...]]
    features: tuple[tuple[str, ...], ...]
    calibration: tuple[int | None, bool, int]
    holiday: bool = False
    reserve: bool = False


@dataclass(frozen=True, slots=True)
class SeatPlan:
    """One technician: (site, weekdays) where and when, and how the shift lies in the day."""

    id: str
    skills: tuple[str, ...]
    works: tuple[tuple[str, tuple[int, ...]], ...]
    late: bool = False
    short: bool = False


_DAY = ((480, 1020),)
_HALF_PAST = ((510, 1020),)
_LUNCH = ((510, 720), (765, 1035))

SITES = (
    SitePlan(
        id="corithmouth",
        name="Corithmouth",
        timezone="America/Halifax",
        x=96,
        y=20,
        appeal=0.82,
        rates=Rates.USUAL,
        hours={0: _DAY, 1: _DAY, 2: _DAY, 3: ((480, 1200),)},
        features=(_ACCESSIBLE, (*_ACCESSIBLE, *_TALL), (), ("quiet_room",)),
        calibration=(None, False, 15),
        holiday=True,
        reserve=True,
    ),
    SitePlan(
        id="branavask",
        name="Branavask",
        timezone="America/New_York",
        x=68,
        y=28,
        appeal=1.22,
        rates=Rates.HIGH,
        hours={1: _DAY, 2: _DAY, 3: _DAY, 4: _DAY},
        features=(_ACCESSIBLE, _TALL, ()),
        calibration=(2, True, 30),
        reserve=True,
    ),
    SitePlan(
        id="dulorpell",
        name="Dulorpell",
        timezone="America/New_York",
        x=46,
        y=10,
        appeal=0.80,
        rates=Rates.LOW,
        hours={0: _DAY, 2: _DAY, 4: _HALF_PAST},
        features=((*_ACCESSIBLE, "quiet_room"), ("step_free",), ()),
        calibration=(0, False, 30),
        holiday=True,
        reserve=True,
    ),
    SitePlan(
        id="fenlosted",
        name="Fenlosted",
        timezone="America/New_York",
        x=50,
        y=40,
        appeal=1.28,
        rates=Rates.USUAL,
        hours={1: _DAY, 2: _DAY, 3: _DAY},
        features=(("step_free",), ()),
        calibration=(1, True, 25),
    ),
    SitePlan(
        id="wensuquay",
        name="Wensuquay",
        timezone="America/Chicago",
        x=20,
        y=16,
        appeal=0.78,
        rates=Rates.USUAL,
        hours={0: _LUNCH, 2: _LUNCH, 4: _LUNCH},
        features=(_ACCESSIBLE,),
        calibration=(2, False, 20),
        holiday=True,
    ),
    SitePlan(
        id="morithwold",
        name="Morithwold",
        timezone="America/Chicago",
        x=16,
        y=42,
        appeal=0.78,
        rates=Rates.HIGH,
        hours={1: _HALF_PAST, 3: _HALF_PAST},
        features=(("adjustable_height",),),
        calibration=(None, False, 15),
    ),
)

CLOSURES = (
    ("branavask-3", 8, 2, "scanner away for repair"),
    ("corithmouth-4", 14, 1, "room painted"),
)
"""Stations shut for whole days: station, first day, days, why."""
PART_DAY_CLOSURES = (("dulorpell-2", 4, 780, 900, "power works"),)
"""Stations shut for part of a day: station, day, from, to, why."""

SEATS = (
    SeatPlan("pelbo-01", ("difficult_capture",), (("corithmouth", (0, 1, 2, 3)),)),
    SeatPlan("yarnes-02", ("second_language",), (("corithmouth", (0, 1, 2, 3)),), late=True),
    SeatPlan("tolfi-03", (), (("corithmouth", (0, 1, 2, 3)),), late=True),
    SeatPlan("zelka-04", ("minors",), (("corithmouth", (0, 1, 2, 3)),), short=True),
    SeatPlan("gramu-05", ("difficult_capture", "minors"), (("branavask", (1, 2, 3, 4)),)),
    SeatPlan("lumtev-06", (), (("branavask", (1, 2, 3, 4)),), late=True),
    SeatPlan("ulvrix-07", ("second_language",), (("branavask", (1, 3, 4)),)),
    SeatPlan("wenpo-08", ("difficult_capture", "second_language"), (("dulorpell", (0, 2, 4)),)),
    SeatPlan("nardek-09", (), (("dulorpell", (0, 2, 4)),), late=True),
    SeatPlan("jorsu-10", ("minors",), (("dulorpell", (0, 2, 4)),), late=True),
    SeatPlan("brazo-11", ("second_language",), (("fenlosted", (1, 2, 3)),)),
    SeatPlan("kesfi-12", (), (("fenlosted", (1, 2, 3)),), late=True, short=True),
    SeatPlan(
        "othlim-13",
        ("difficult_capture", "second_language"),
        (("wensuquay", (0, 2, 4)), ("morithwold", (1, 3))),
    ),
)
