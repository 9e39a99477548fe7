"""Whether it can be kept of an appointment that nobody came."""

from __future__ import annotations

from datetime import datetime

from sites.clock import wall
from sites.models import Appointment
from sites.step import Step


def may_miss(one: Appointment | None, now: datetime) -> bool:
    """Whether an appointment is booked and its told time is over, on the clock of its site."""
    if one is None or one.step != Step.BOOKED:
        return False
    return (one.day, one.told_minute) < wall(one.station.site.timezone, now)
