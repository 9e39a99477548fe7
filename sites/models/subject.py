"""Subjects: whom to book and how to reach them, and nothing else about them.

No identifier, no birth data, no image and no template is kept, ever; a need for a longer session
is kept as a need, without its reason.
"""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models import Q

from sites.crypto import lookup
from sites.models.sealed import SealedField
from sites.models.site import Site


class HomeArea(models.Model):
    """An area that people travel from; coordinates of its middle."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=120, blank=True)
    latitude = models.FloatField(null=True, blank=True)
    longitude = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(
                    latitude__isnull=False,
                    longitude__isnull=False,
                    latitude__range=(-90, 90),
                    longitude__range=(-180, 180),
                ),
                name="home_area_is_on_earth",
            )
        ]

    def __str__(self) -> str:
        return self.name or self.code


class TravelTime(models.Model):
    """Minutes from an area to a site, where they are known; else they come from coordinates."""

    area = models.ForeignKey(HomeArea, models.CASCADE, related_name="travel_times")
    site = models.ForeignKey(Site, models.CASCADE, related_name="travel_times")
    minutes = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["area", "site"]
        constraints = [models.UniqueConstraint(fields=["area", "site"], name="travel_time_once")]

    def __str__(self) -> str:
        return f"{self.area} to {self.site}: {self.minutes} min"


class Subject(models.Model):
    """The person whose prints are taken. Names and contact are sealed; ``*_key`` finds them."""

    reference = models.CharField(max_length=64, unique=True, help_text="The programme's own")
    given_name = SealedField(blank=True)
    family_name = SealedField(blank=True)
    family_name_key = models.CharField(max_length=64, blank=True, db_index=True, editable=False)
    phone = SealedField(blank=True)
    phone_key = models.CharField(max_length=64, blank=True, db_index=True, editable=False)
    email = SealedField(blank=True)
    email_key = models.CharField(max_length=64, blank=True, db_index=True, editable=False)
    language = models.CharField(max_length=16, blank=True, help_text="BCP 47 tag")
    needs_access = models.BooleanField(default=False, help_text="Needs an accessible station")
    needs_longer = models.BooleanField(default=False, help_text="Needs a longer session")
    home_area = models.ForeignKey(
        HomeArea, models.PROTECT, null=True, blank=True, related_name="subjects"
    )
    earlier_no_shows = models.PositiveSmallIntegerField(
        default=0, help_text="Known from before; those of the record are counted from it"
    )

    class Meta:
        ordering = ["reference"]

    def __str__(self) -> str:
        return self.reference

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep the look-up hashes with what they find."""
        self.set_keys()
        super().save(*args, **kwargs)

    def set_keys(self) -> None:
        """Work out the look-up hashes; call it before ``bulk_create``."""
        self.family_name_key = lookup(self.family_name)
        self.phone_key = lookup(self.phone)
        self.email_key = lookup(self.email)
