"""Why the last planning run left a request out."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models.planrun import PlanRun
from sites.models.request import Request


class LeftOut(models.Model):
    """What the last run that looked at a request said: a code, the detail, the nearest remedy.

    A run that books the request takes it away.
    """

    request = models.OneToOneField(Request, models.CASCADE, related_name="left_out")
    run = models.ForeignKey(PlanRun, models.CASCADE, related_name="left_out")
    code = models.CharField(max_length=40)
    detail = models.CharField(max_length=500)
    remedy = models.CharField(max_length=300)

    class Meta:
        ordering = ["request"]
        verbose_name_plural = "left out"
        constraints = [
            models.CheckConstraint(condition=~Q(code=""), name="left_out_has_a_code"),
        ]

    def __str__(self) -> str:
        return f"{self.request}: {self.code}"
