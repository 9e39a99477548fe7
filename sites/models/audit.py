"""What the audit holds; triggers of the database write it, and nobody changes it."""

from __future__ import annotations

from django.db import models


class AuditEntry(models.Model):
    """One row of one table was added, changed or removed (PostgreSQL: a table was emptied).

    ``actor`` is who did it (`sites.audit.actor`), ``request`` the id of the page's request, ""
    where there was none, ``noun`` the model and ``key`` the row's number. ``changes`` has a member
    for each column that changed: ``[old, new]``, or ``[]`` where only the name is kept; of a row
    that was removed the values themselves. ``at`` is the database's clock.
    """

    at = models.DateTimeField()
    actor = models.CharField(max_length=80)
    request = models.CharField(max_length=64)
    what = models.CharField(max_length=8)
    noun = models.CharField(max_length=64)
    key = models.BigIntegerField(null=True)
    changes = models.JSONField()

    class Meta:
        managed = False
        db_table = "record_auditentry"
        ordering = ["-at", "-id"]
        verbose_name_plural = "audit entries"

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M:%S} {self.actor} {self.what} {self.noun} {self.key}"
