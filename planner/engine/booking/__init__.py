"""Who, where, when: requests booked into promise-keeping appointments at least cost."""

from planner.engine.booking.bounds.shrink import gap_as_capacity
from planner.engine.booking.bounds.strong import strong_bound
from planner.engine.booking.run import plan
from planner.engine.booking.watch import Interrupted, Options, Progress, Quiet, Watch

__all__ = [
    "Interrupted",
    "Options",
    "Progress",
    "Quiet",
    "Watch",
    "gap_as_capacity",
    "plan",
    "strong_bound",
]
