"""Programmes, and their parameters as dated versions."""

from __future__ import annotations

from django.db import models
from django.db.models import Q


class Programme(models.Model):
    """The scheme that a request belongs to. Its parameters are in `ProgrammeVersion`."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    bring = models.TextField(blank=True, help_text="What subjects bring; shown in invitations")
    contact = models.CharField(
        max_length=200, blank=True, help_text="How subjects reach the programme: phone and hours"
    )
    reply_to = models.EmailField(blank=True, help_text="Where answers to notices go")

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return self.name


class ProgrammeVersion(models.Model):
    """A programme's parameters from ``starts_on`` on; requests received earlier keep theirs.

    The defaults are ours or common practice; the programme's own policy comes first.
    """

    programme = models.ForeignKey(Programme, models.PROTECT, related_name="versions")
    starts_on = models.DateField()
    due_days = models.PositiveSmallIntegerField(default=14)
    validity_days = models.PositiveSmallIntegerField(default=120)
    attempts_per_capture = models.PositiveSmallIntegerField(default=3)
    override_allowed = models.BooleanField(default=True)
    override_second_person = models.BooleanField(default=True)
    rework_days = models.PositiveSmallIntegerField(default=14)
    return_window_days = models.PositiveSmallIntegerField(default=90)
    reminder_days = models.PositiveSmallIntegerField(
        default=2, help_text="Days before an appointment at which subjects are reminded; 0: never"
    )
    retention_days = models.PositiveSmallIntegerField(default=365)
    retention_references = models.BooleanField(
        default=False,
        help_text="Whether the programme's own references of people and requests go with the names",
    )
    hand_care_days = models.PositiveSmallIntegerField(
        default=7, help_text="Days of hand care before another try; our default"
    )
    healing_days = models.PositiveSmallIntegerField(
        default=14, help_text="Days until a cut is taken as healed; our default"
    )
    cast_days = models.PositiveSmallIntegerField(
        default=28, help_text="Days until a cast is taken as off, 28 to 42; our default"
    )
    waiting_automatic = models.BooleanField(
        default=False, help_text="Whether who is next on the waiting list is booked without asking"
    )
    grain_minutes = models.PositiveSmallIntegerField(default=5)
    wait_minutes = models.PositiveSmallIntegerField(default=15)
    wait_risk = models.FloatField(default=0.10)
    overtime_minutes = models.PositiveSmallIntegerField(default=20)
    overtime_risk = models.FloatField(default=0.05)
    cost_unbooked = models.FloatField(default=30)
    cost_late_day = models.FloatField(default=3)
    cost_wait_day = models.FloatField(default=0.1)
    cost_travel_minute = models.FloatField(default=0.01)
    cost_move = models.FloatField(default=2)

    class Meta:
        ordering = ["programme", "starts_on"]
        constraints = [
            models.UniqueConstraint(
                fields=["programme", "starts_on"], name="programme_version_one_a_day"
            ),
            models.CheckConstraint(
                condition=Q(
                    attempts_per_capture__gte=1,
                    grain_minutes__gte=1,
                    due_days__gte=1,
                    validity_days__gte=1,
                    retention_days__gte=1,
                ),
                name="programme_version_counts_positive",
            ),
            models.CheckConstraint(
                condition=Q(wait_risk__range=(0, 1), overtime_risk__range=(0, 1)),
                name="programme_version_risks_are_chances",
            ),
            models.CheckConstraint(
                condition=Q(
                    cost_unbooked__gte=0,
                    cost_late_day__gte=0,
                    cost_wait_day__gte=0,
                    cost_travel_minute__gte=0,
                    cost_move__gte=0,
                ),
                name="programme_version_costs_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.programme} from {self.starts_on}"
