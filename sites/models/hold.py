"""Holds: a request that nobody books for a while, and why."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import F, Q

from sites.models.request import Request


class Hold(models.Model):
    """A hold on a request, until it is released or until the day ``until``, when it ends by itself.

    ``until`` is the first day on which the person can have an appointment again; None: until
    somebody releases it. Ended holds stay, for the request's timeline.
    """

    request = models.ForeignKey(Request, models.CASCADE, related_name="holds")
    since = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )
    why = models.CharField(max_length=200, help_text="No names of people, no diagnosis")
    until = models.DateField(null=True, blank=True)
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        ordering = ["request", "since"]
        constraints = [
            models.UniqueConstraint(
                fields=["request"],
                condition=Q(released_at__isnull=True),
                name="hold_one_not_released",
            ),
            models.CheckConstraint(condition=~Q(why=""), name="hold_says_why"),
            models.CheckConstraint(
                condition=Q(released_at__isnull=True) | Q(released_at__gte=F("since")),
                name="hold_ends_after_it_starts",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request} since {self.since:%Y-%m-%d}"
