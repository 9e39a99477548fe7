"""The kinds of capture session that invented networks use, and the rates learnt at some sites.

The figures of `FULL_SET`, `WORN_RIDGES` and `REWORK` are defaults of this project; so is the mix.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from functools import cache
from typing import TYPE_CHECKING

from planner.engine.network import Capture, Cost, Policy, Profile, Setup
from planner.engine.sessions.planned import planned_minutes

if TYPE_CHECKING:
    from collections.abc import Iterable


class Rates(Enum):
    """Whether a site's learnt retake rates are the network's, lower or higher."""

    USUAL = ""
    LOW = "_low_retake"
    HIGH = "_high_retake"


_FACTOR = {Rates.LOW: 0.8, Rates.HIGH: 1.3}


def _ten_prints(plain: tuple[float, float], rolled: tuple[float, float]) -> tuple[Capture, ...]:
    """13 captures of a full set; each pair is seconds an attempt and P(retake)."""
    return (Capture("plain", 3, *plain), Capture("rolled", 10, *rolled))


FULL_SET = Profile(
    "full_set", Setup(7, 3), _ten_prints((20, 0.10), (25, 0.16)), 3, 30, wrapup=3, no_show=0.08
)
WORN_RIDGES = Profile(
    "worn_ridges", Setup(8, 3), _ten_prints((20, 0.25), (25, 0.35)), 3, 30, wrapup=3, no_show=0.06
)
REWORK = Profile(
    "rework", Setup(11, 5), _ten_prints((25, 0.30), (30, 0.40)), 3, 50, wrapup=3, no_show=0.05
)
PLAIN_ONLY = Profile(
    "plain_only", Setup(7, 3), (Capture("plain", 3, 20, 0.12),), 3, 30, wrapup=3, no_show=0.10
)

FIRST_SESSIONS = (FULL_SET, WORN_RIDGES, PLAIN_ONLY)
"""What a request that was not returned asks for, with the shares in `FIRST_SHARES`."""
FIRST_SHARES = (0.66, 0.23, 0.11)
_LEARNT = (FULL_SET, WORN_RIDGES)

USUAL_POLICY = Policy(
    wait_minutes=15,
    wait_risk=0.10,
    overtime_minutes=20,
    overtime_risk=0.05,
    cost=Cost(unbooked=30, late_day=3, wait_day=0.1, travel_minute=0.01, move=2),
)
GRAIN = 5


def profile_at(profile: Profile, rates: Rates) -> str | None:
    """The id of the profile that replaces ``profile`` at a site with such rates, or None."""
    if rates is Rates.USUAL or profile not in _LEARNT:
        return None
    return f"{profile.id}{rates.value}"


def all_profiles() -> tuple[Profile, ...]:
    """The kinds of session, then what was learnt of them at sites with low and high rates."""
    learnt = [
        replace(
            profile,
            id=f"{profile.id}{rates.value}",
            captures=tuple(
                replace(capture, retake=round(capture.retake * factor, 4))
                for capture in profile.captures
            ),
        )
        for profile in _LEARNT
        for rates, factor in _FACTOR.items()
    ]
    return (*FIRST_SESSIONS, REWORK, *learnt)


def planned_lengths(profiles: Iterable[Profile], policy: Policy, grain: int) -> dict[str, int]:
    """Profile id to planned whole minutes: what one session takes of station and technician."""
    return {profile.id: planned_minutes(profile, policy, grain) for profile in profiles}


@cache
def usual_lengths() -> dict[str, int]:
    """Planned minutes of `all_profiles` under `USUAL_POLICY`."""
    return planned_lengths(all_profiles(), USUAL_POLICY, GRAIN)
