"""Invented subjects who can be written to, and the present of a week before `DAY`."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from sites.models import Appointment, Notice, NoticeState, Request, Subject
from sites.services.appointments import appointment_move
from tests.sites.build import World

BEFORE = datetime(2026, 2, 24, 9, 0, tzinfo=UTC)
"""Six days before `DAY`."""
EMAIL = "ilmi.tavoren@example.invalid"


def reachable(here: World, name: str, **values: Any) -> Request:
    """A request of a subject with a name and an address."""
    subject = Subject.objects.create(
        reference=f"s-{name}",
        **{"given_name": "Ilmi", "family_name": "Tavoren", "email": EMAIL, **values},
    )
    return here.request(name, subject=subject)


def booked(here: World, name: str = "r-1", minute: int = 600, **values: Any) -> Appointment:
    """A booking of somebody who can be written to."""
    return here.book(reachable(here, name, **values), minute, at=BEFORE)


def moved(here: World, appointment: Appointment, minute: int) -> Appointment:
    """The same appointment at another time."""
    return appointment_move(
        appointment=appointment,
        station=appointment.station,
        technician=appointment.technician,
        day=appointment.day,
        minute=minute,
        minutes=20,
        why="asked for",
        by=here.desk,
        at=BEFORE,
    )


def states() -> list[tuple[str, str]]:
    """Kinds and states of all notices, in the order of raising."""
    return [
        (row.kind, NoticeState(row.state).name.lower()) for row in Notice.objects.order_by("pk")
    ]
