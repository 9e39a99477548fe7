"""People who sign in: coordinator, site lead, manager, technician."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models

from sites.models.spans import one_of


class Role(models.TextChoices):
    """What a person does here; what they may see and do follows from it."""

    COORDINATOR = "coordinator", "Coordinator"
    SITE_LEAD = "site_lead", "Site lead"
    MANAGER = "manager", "Manager"
    TECHNICIAN = "technician", "Technician"


class User(AbstractUser):
    """A login with one role and the sites it covers (none named: all of them)."""

    role = models.CharField(max_length=16, choices=Role, default=Role.TECHNICIAN)
    covers = models.ManyToManyField("record.Site", blank=True, related_name="users")

    class Meta(AbstractUser.Meta):
        constraints = [one_of("role", Role, "user_role_known")]
