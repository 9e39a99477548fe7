"""People who sign in: coordinator, site lead, manager, technician, auditor, administrator."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models
from django.db.models import Q

from sites.models.spans import one_of


class Role(models.TextChoices):
    """What a person does here; what they may see and do follows from it (`sites.access`)."""

    COORDINATOR = "coordinator", "Coordinator"
    SITE_LEAD = "site_lead", "Site lead"
    MANAGER = "manager", "Manager"
    TECHNICIAN = "technician", "Technician"
    AUDITOR = "auditor", "Auditor"
    ADMINISTRATOR = "administrator", "Administrator"


class Logins(UserManager["User"]):
    """Makes logins; ``createsuperuser`` makes an administrator."""

    use_in_migrations = False

    def create_superuser(self, *args: Any, **values: Any) -> User:
        """A login that may set everything up."""
        return super().create_superuser(*args, **{**values, "role": Role.ADMINISTRATOR})


class User(AbstractUser):
    """A login with one role and the sites it covers.

    Coordinator, site lead and technician hold at these sites alone: none named is none. Manager,
    auditor and administrator see every site. The role says who is Django's superuser and staff:
    the administrator, and nobody else.
    """

    role = models.CharField(max_length=16, choices=Role, default=Role.TECHNICIAN)
    covers = models.ManyToManyField("record.Site", blank=True, related_name="users")

    objects: ClassVar[Logins] = Logins()

    class Meta(AbstractUser.Meta):
        constraints = [
            one_of("role", Role, "user_role_known"),
            models.CheckConstraint(
                condition=Q(role=Role.ADMINISTRATOR, is_superuser=True)
                | (~Q(role=Role.ADMINISTRATOR) & Q(is_superuser=False)),
                name="user_administrator_is_superuser",
            ),
        ]

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep Django's flags with the role."""
        fields = kwargs.get("update_fields")
        if fields is None or "role" in fields:
            self.is_staff = self.is_superuser = self.role == Role.ADMINISTRATOR
            if fields is not None:
                kwargs["update_fields"] = {*fields, "is_staff", "is_superuser"}
        super().save(*args, **kwargs)
