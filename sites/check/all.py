"""Every check, by name."""

from __future__ import annotations

from sites.check import occupancy, people, times, visits
from sites.check.finding import Check

CHECKS: dict[str, Check] = {
    check.__name__.replace("_", " "): check
    for check in (*occupancy.CHECKS, *times.CHECKS, *people.CHECKS, *visits.CHECKS)
}
