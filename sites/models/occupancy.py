"""Who and what is taken when; kept by the database, never written by hand."""

from __future__ import annotations

from django.db import models


class Occupancy(models.Model):
    """One resource is taken for minutes ``[starts, ends)`` since 1970-01-01 UTC.

    ``source`` and ``source_id`` say by which row; ``sites/occupancy/sources.py`` has the numbers.
    The table is made by SQL in a migration and filled by triggers.
    """

    source = models.SmallIntegerField()
    source_id = models.BigIntegerField()
    kind = models.SmallIntegerField()
    resource = models.BigIntegerField()
    starts = models.BigIntegerField()
    ends = models.BigIntegerField()

    class Meta:
        managed = False
        db_table = "record_occupancy"
        ordering = ["kind", "resource", "starts"]
        verbose_name_plural = "occupancy"

    def __str__(self) -> str:
        return f"{self.kind}/{self.resource} [{self.starts}, {self.ends})"
