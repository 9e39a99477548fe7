"""Notices to subjects, and the supplies of a site."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from sites.models.request import Request
from sites.models.site import Site
from sites.models.spans import one_of


class NoticeKind(models.TextChoices):
    """What a notice says."""

    BOOKED = "booked", "Booked"
    MOVED = "moved", "Moved"
    CANCELLED = "cancelled", "Cancelled"
    RETURNED = "returned", "Returned: come again"


class Notice(models.Model):
    """Something that a subject has to be told; ``told_at`` once they were."""

    request = models.ForeignKey(Request, models.PROTECT, related_name="notices")
    kind = models.CharField(max_length=12, choices=NoticeKind)
    raised_at = models.DateTimeField()
    told_at = models.DateTimeField(null=True, blank=True)
    detail = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["raised_at"]
        constraints = [
            one_of("kind", NoticeKind, "notice_kind_known"),
            models.CheckConstraint(
                condition=Q(told_at__isnull=True) | Q(told_at__gte=F("raised_at")),
                name="notice_told_after_raised",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request}: {self.kind}"


class Supply(models.Model):
    """What a site has in stock of one supply, and the count under which more is ordered."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="supplies")
    kind = models.SlugField(max_length=64)
    count = models.PositiveIntegerField(default=0)
    low = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["site", "kind"]
        verbose_name_plural = "supplies"
        constraints = [models.UniqueConstraint(fields=["site", "kind"], name="supply_once")]

    def __str__(self) -> str:
        return f"{self.kind} at {self.site}"
