"""Every check, by name."""

from __future__ import annotations

from sites.check import occupancy, people, places, times, visits
from sites.check.finding import Check

CHECKS: dict[str, Check] = {
    check.__name__.replace("_", " "): check
    for room in (occupancy, times, places, people, visits)
    for check in room.CHECKS
}
