"""Restores: when a backup was put in the record's place, and which."""

from __future__ import annotations

from django.db import models


class Restore(models.Model):
    """A backup that was put back ``at`` an instant, known by its manifest.

    ``digest`` is the SHA-256 of its file, ``rows`` how many it had. ``account`` is the account of
    the machine that the command ran under: who sat at it cannot be known from inside.
    """

    at = models.DateTimeField()
    made_at = models.DateTimeField()
    digest = models.CharField(max_length=64)
    rows = models.PositiveBigIntegerField()
    account = models.CharField(max_length=64)

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"restore of the backup of {self.made_at:%Y-%m-%d %H:%M} UTC"
