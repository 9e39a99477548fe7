"""Planning runs: what was planned, from what, by whom."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q


class PlanRun(models.Model):
    """One run over days ``first_day`` … ``first_day + days - 1``; digests are SHA-256 of files."""

    created_at = models.DateTimeField(auto_now_add=True)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    first_day = models.DateField()
    days = models.PositiveSmallIntegerField()
    seed = models.PositiveIntegerField(default=0)
    network_digest = models.CharField(max_length=64, blank=True)
    plan_digest = models.CharField(max_length=64, blank=True)
    objective = models.FloatField(null=True, blank=True)
    bound = models.FloatField(null=True, blank=True)
    booked = models.PositiveIntegerField(default=0)
    unbooked = models.PositiveIntegerField(default=0)
    started_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    note = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.CheckConstraint(condition=Q(days__gte=1), name="plan_run_has_days"),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True)
                | Q(started_at__isnull=False, ended_at__gte=F("started_at")),
                name="plan_run_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"Run {self.pk} from {self.first_day}"
