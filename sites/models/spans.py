"""Times of a site: a wall clock for people, an instant for what must not overlap.

``day`` and ``minute`` (minutes past midnight) say what the clock on the site's wall shows, which is
what a person was told and what the engine plans with. ``starts_at`` and ``ends_at`` are the same
times as instants, so that two things in different zones can be compared; occupancy uses them.
"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

MINUTES_A_DAY = 24 * 60


class WallSpan(models.Model):
    """``minutes`` from ``minute`` of ``day`` on a site's wall clock, with both ends as instants."""

    day = models.DateField(help_text="Date at the site")
    minute = models.PositiveSmallIntegerField(help_text="Minutes past midnight at the site")
    minutes = models.PositiveIntegerField(help_text="Length in minutes")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(minute__lt=MINUTES_A_DAY, minutes__gt=0, ends_at__gt=F("starts_at")),
                name="%(class)s_span_is_a_span",
            )
        ]


def one_of(
    field: str, choices: type[models.TextChoices] | type[models.IntegerChoices], name: str
) -> models.CheckConstraint:
    """The constraint that a column holds one of its choices."""
    return models.CheckConstraint(condition=Q(**{f"{field}__in": choices.values}), name=name)
