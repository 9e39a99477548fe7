"""Words that stations, technicians and requests are matched by."""

from __future__ import annotations

from django.db import models


class Word(models.Model):
    """A word with a stable code, which network files use."""

    code = models.SlugField(max_length=64, unique=True)
    name = models.CharField(max_length=120, blank=True)

    class Meta:
        abstract = True
        ordering = ["code"]

    def __str__(self) -> str:
        return self.code


class Feature(Word):
    """What a station has, such as ``accessible``."""


class Skill(Word):
    """What a technician can do, such as ``difficult_capture``."""
