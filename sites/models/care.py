"""Scanner care: what a scanner needs, and when it gets it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.spans import MINUTES_A_DAY, one_of
from sites.models.station import Scanner, Station
from sites.models.technician import Technician


class CareKind(models.TextChoices):
    """What is done to a scanner."""

    CALIBRATION = "calibration", "Calibration"
    CLEANING = "cleaning", "Cleaning"
    MAINTENANCE = "maintenance", "Maintenance"


class CareOutcome(models.TextChoices):
    """How a care window ended; open while blank."""

    DONE = "done", "Done"
    MISSED = "missed", "Missed"


class CareRule(models.Model):
    """A scanner's care is due every so many days or captures, whichever comes first."""

    scanner = models.ForeignKey(Scanner, models.CASCADE, related_name="care_rules")
    kind = models.CharField(max_length=16, choices=CareKind)
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    every_captures = models.PositiveIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField()
    needs_technician = models.BooleanField(default=True)
    grace_days = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["scanner", "kind"]
        constraints = [
            models.UniqueConstraint(fields=["scanner", "kind"], name="care_rule_once"),
            one_of("kind", CareKind, "care_rule_kind_known"),
            models.CheckConstraint(
                condition=Q(every_days__isnull=False, every_days__gte=1)
                | Q(every_captures__isnull=False, every_captures__gte=1),
                name="care_rule_falls_due",
            ),
            models.CheckConstraint(condition=Q(minutes__gte=1), name="care_rule_takes_time"),
        ]

    def __str__(self) -> str:
        return f"{self.scanner}: {self.kind}"


class CareWindow(models.Model):
    """One piece of care, due within ``[earliest, latest]``; ``day`` once it has a time.

    ``fixed`` windows were set by a person and stay; others are placed by a plan.
    """

    code = models.SlugField(max_length=64, unique=True)
    station = models.ForeignKey(Station, models.PROTECT, related_name="care")
    scanner = models.ForeignKey(Scanner, models.PROTECT, null=True, blank=True, related_name="care")
    kind = models.CharField(max_length=16, choices=CareKind, default=CareKind.CALIBRATION)
    minutes = models.PositiveSmallIntegerField()
    needs_technician = models.BooleanField(default=True)
    earliest = models.DateField()
    latest = models.DateField()
    fixed = models.BooleanField(default=False)
    day = models.DateField(null=True, blank=True)
    minute = models.PositiveSmallIntegerField(null=True, blank=True)
    starts_at = models.DateTimeField(null=True, blank=True)
    ends_at = models.DateTimeField(null=True, blank=True)
    technician = models.ForeignKey(
        Technician, models.PROTECT, null=True, blank=True, related_name="care"
    )
    outcome = models.CharField(max_length=8, choices=CareOutcome, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["station", "earliest", "code"]
        constraints = [
            one_of("kind", CareKind, "care_kind_known"),
            models.CheckConstraint(
                condition=Q(outcome__in=["", *CareOutcome.values]), name="care_outcome_known"
            ),
            models.CheckConstraint(
                condition=Q(minutes__gte=1, latest__gte=F("earliest")), name="care_can_be_placed"
            ),
            models.CheckConstraint(
                condition=Q(
                    day__isnull=True,
                    minute__isnull=True,
                    starts_at__isnull=True,
                    ends_at__isnull=True,
                )
                | Q(
                    day__isnull=False,
                    minute__isnull=False,
                    starts_at__isnull=False,
                    ends_at__isnull=False,
                    minute__lt=MINUTES_A_DAY,
                    ends_at__gt=F("starts_at"),
                ),
                name="care_has_a_whole_time_or_none",
            ),
            models.CheckConstraint(
                condition=Q(outcome="", closed_at__isnull=True)
                | (~Q(outcome="") & Q(closed_at__isnull=False)),
                name="care_outcome_says_when",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.station}: {self.kind} {self.code}"
