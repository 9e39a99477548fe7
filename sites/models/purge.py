"""Purges: when names and contact data were taken away by rule, and of how many people."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q


class Purge(models.Model):
    """One purge by the programmes' rule, over as many runs as it took; open until ``ended_at``.

    ``as_of`` is the day that the rule was asked for, ``subjects`` how many people's data were
    taken away, ``texts`` how many texts that were typed about them, ``references`` how many of the
    programme's own, and ``programmes`` how many of them each programme knew, by code: counts alone.
    """

    begun_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    as_of = models.DateField()
    subjects = models.PositiveIntegerField(default=0)
    texts = models.PositiveIntegerField(default=0)
    references = models.PositiveIntegerField(default=0)
    programmes = models.JSONField(default=dict)

    class Meta:
        ordering = ["-begun_at"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("begun_at")),
                name="purge_ends_after_it_begins",
            ),
        ]

    def __str__(self) -> str:
        return f"purge of {self.as_of}: {self.subjects} subjects"
