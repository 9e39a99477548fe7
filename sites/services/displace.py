"""Making room: whom a closed time would move, and moving them out of the way."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q

from sites.clock import Span, minute_words
from sites.errors import SlotTaken
from sites.models import Appointment, Break, Station, Technician, User
from sites.services.appointments import take_step
from sites.step import Step


@dataclass(frozen=True, slots=True)
class Displaced:
    """An appointment that is, or would be, in the way."""

    appointment: Appointment

    def __str__(self) -> str:
        one = self.appointment
        return f"{one.request.reference} on {one.day} at {minute_words(one.told_minute)}"


def in_the_way(
    span: Span, *, station: Station | None = None, technician: Technician | None = None
) -> list[Appointment]:
    """Appointments that have the station or the technician in a time, in order of start."""
    whose = Q()
    if station is not None:
        whose |= Q(station=station)
    if technician is not None:
        whose |= Q(technician=technician)
    rows = Appointment.objects.filter(
        whose,
        step__in=(Step.BOOKED, Step.ARRIVED, Step.UNDERWAY),
        starts_at__lt=span["ends_at"],
        ends_at__gt=span["starts_at"],
    )
    return list(rows.select_related("request").order_by("starts_at", "pk"))


def make_room(
    span: Span,
    *,
    by: User | None,
    why: str,
    displace: bool,
    station: Station | None = None,
    technician: Technician | None = None,
) -> list[Displaced]:
    """Displace whoever is in the way, or raise SlotTaken with their names."""
    rows = [Displaced(one) for one in in_the_way(span, station=station, technician=technician)]
    if rows and not displace:
        raise SlotTaken(
            "that time",
            f"is taken by {', '.join(str(row) for row in rows)}",
            "choose another time, or let these lose their place",
        )
    for row in rows:
        take_step(row.appointment, "displace", by=by, why=why)
    if technician is not None and displace:
        Break.objects.filter(
            technician=technician, starts_at__lt=span["ends_at"], ends_at__gt=span["starts_at"]
        ).delete()
    return rows
