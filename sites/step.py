"""Where an appointment is on its way, and which of these places hold or take something."""

from __future__ import annotations

from django.db.models import TextChoices


class Step(TextChoices):
    """Where an appointment is on its way."""

    BOOKED = "booked", "Booked"
    DISPLACED = "displaced", "Lost its place"
    ARRIVED = "arrived", "Arrived"
    UNDERWAY = "underway", "Under way"
    HELD = "held", "Held"
    NO_SHOW = "no_show", "No-show"
    CANCELLED = "cancelled", "Cancelled"


ACTIVE = (Step.BOOKED, Step.DISPLACED, Step.ARRIVED, Step.UNDERWAY)
OCCUPIES = (Step.BOOKED, Step.ARRIVED, Step.UNDERWAY, Step.HELD)
