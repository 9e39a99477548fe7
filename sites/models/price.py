"""What a minute is worth: the prices that the last planning run found."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from sites.models.planrun import PlanRun
from sites.models.site import Site


class PricePart(models.TextChoices):
    """Which part of a day a price is for."""

    MORNING = "am", "Before noon"
    AFTERNOON = "pm", "From noon on"
    DAY = "day", "The whole day"


class SitePrice(models.Model):
    """What one more minute would save at a site, on a day, in a part of it.

    In the cost units of the programmes' parameters. ``further`` lists what a minute with a skill or
    a feature is worth besides: ``{"skills": [[word, price]], "features": [[word, price]]}``. One
    row a site, day and part: that of the last run which planned the day.
    """

    run = models.ForeignKey(PlanRun, models.CASCADE, related_name="prices")
    site = models.ForeignKey(Site, models.CASCADE, related_name="prices")
    day = models.DateField()
    part = models.CharField(max_length=3, choices=PricePart)
    station_minute = models.FloatField()
    technician_minute = models.FloatField()
    further = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["site", "day", "part"]
        constraints = [
            models.UniqueConstraint(fields=["site", "day", "part"], name="site_price_once"),
            models.CheckConstraint(
                condition=Q(part__in=PricePart.values), name="site_price_part_known"
            ),
            models.CheckConstraint(
                condition=Q(station_minute__gte=0, technician_minute__gte=0),
                name="site_price_not_negative",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.site} {self.day} {self.part}"
