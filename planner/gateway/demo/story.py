"""What happened in the demo, in days before its "today"; every figure is invented or a default.

Nothing here is measured anywhere. With the usual today (`TODAY`) the newcomer began on 1 March and
the hiring wave lay in October and November.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

TODAY = date(2027, 6, 7)
"""A Monday: nine months before it lie an autumn and a March."""
PAST_DAYS = 273
AHEAD_DAYS = 56
"""Days with shifts and care after today: eight weeks, for the outlook."""
PLAN_DAYS = 21
LOAD = 0.86
"""Demand of a usual week as a share of what the sites can hold."""

RETURNED_IMAGE = 0.03  # about 3 %: press report of a national repository's figure, 2012
RETURNED_IMAGE_POOR = 0.10  # common practice, no source
RETURNED_IMAGE_AGAIN = 0.20  # 15 to 25 %: common practice, no source
RETURNED_DATA = 0.015  # ours
RETURNED_TRANSMISSION = 0.010  # ours
POOR_SITES = ("branavask", "morithwold")
NO_SHOW_AGAIN_ODDS = 4.42  # after an earlier no-show: PMC11149957
REFUSED = 0.006  # ours: the identity check is not passed
UNPRINTABLE = 0.005  # ours: a finger cannot be printed now
AMPUTATED = 0.004  # ours
CANCELLED = 0.03  # ours
AWAY = 0.02  # ours: a technician is away for a day

CAUSES = {
    "dry": 0.27,
    "worn": 0.15,
    "pressure": 0.15,
    "roll_short": 0.12,
    "placement": 0.10,
    "smear": 0.09,
    "moist": 0.07,
    "sequence": 0.02,
    "residue": 0.02,
    "device": 0.01,
}
"""Why a capture was taken again, as shares of retakes on a sound scanner; ours."""
ROLLED_ONLY = ("roll_short",)
DRIFT_CAUSES = {"residue": 0.75, "device": 0.25}


@dataclass(frozen=True, slots=True)
class Drift:
    """A scanner whose retakes grow from ``first`` times to ``last`` times the usual."""

    station: str
    begins: int  # days before today
    ends: int
    first: float
    last: float


@dataclass(frozen=True, slots=True)
class Newcomer:
    """A technician who began ``begins`` days before today; both factors fall to 1 in ``weeks``."""

    technician: str
    begins: int
    weeks: int
    slower: float
    retakes: float


@dataclass(frozen=True, slots=True)
class Wave:
    """Weeks in which ``times`` as many subjects come to some sites."""

    sites: tuple[str, ...]
    begins: int
    ends: int
    times: float


DRIFT = Drift("corithmouth-2", 70, 49, 1.5, 2.4)
NEWCOMER = Newcomer("jorsu-10", 98, 10, 1.4, 1.6)
WAVE = Wave(("corithmouth", "fenlosted", "wensuquay"), 245, 210, 1.6)
ANNOUNCED = 1000
"""Requests received in the last ten days whose subjects come free in the next three weeks."""
CLOSED = ((172, 1, "ice on the roads"), (165, 4, "year's end"), (-7, 1, "public holiday"))
"""Days on which every site was or will be shut: days before today, how many, why."""
DOWN = (
    ("branavask-3", 122, "scanner away for repair"),
    ("dulorpell-2", 33, "power works"),
    ("branavask-3", -8, "scanner away for repair"),
    ("corithmouth-4", -14, "room painted"),
)
"""Stations down for a day: station, days before today, why."""


def drift_factor(station: str, before: int) -> float:
    """How many times the usual retakes a station's scanner has, ``before`` days before today."""
    if station != DRIFT.station or not DRIFT.ends < before <= DRIFT.begins:
        return 1.0
    gone = (DRIFT.begins - before) / (DRIFT.begins - DRIFT.ends)
    return DRIFT.first + (DRIFT.last - DRIFT.first) * gone


def newcomer_factor(technician: str, before: int, begun_with: float) -> float:
    """A factor that falls from ``begun_with`` to 1 over the newcomer's first weeks."""
    if technician != NEWCOMER.technician:
        return 1.0
    left = 1 - (NEWCOMER.begins - before) / (7 * NEWCOMER.weeks)
    return 1 + (begun_with - 1) * max(0.0, left)
