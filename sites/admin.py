"""Django's admin for every model: for looking, and for what has no page of its own.

What services write with checks and events can only be read here; the rest can be edited, and the
database still refuses what breaks a rule.
"""

from __future__ import annotations

from typing import Any

from django.apps import apps
from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.db import models
from django.http import HttpRequest

from sites.admin_forms import ClockForm
from sites.models import (
    ApiCall,
    ApiToken,
    Appointment,
    AppointmentEvent,
    Attempt,
    AuditEntry,
    Break,
    CareWindow,
    ExceptionRoute,
    ExternalReference,
    Hold,
    Intake,
    IntakeBlock,
    IntakeFinding,
    LeftOut,
    MissingFinger,
    Notice,
    NoticeText,
    Occupancy,
    Override,
    PlanResult,
    PlanRun,
    Proposal,
    Purge,
    Response,
    Restore,
    RunPart,
    Session,
    SitePrice,
    Submission,
    User,
    Waiting,
)
from sites.models.sealed import SealedField
from sites.models.spans import WallSpan

WRITTEN_BY_SERVICES: tuple[type[models.Model], ...] = (
    ApiCall,
    ApiToken,
    Appointment,
    AppointmentEvent,
    Attempt,
    AuditEntry,
    Break,
    CareWindow,
    ExternalReference,
    Hold,
    Intake,
    IntakeBlock,
    IntakeFinding,
    ExceptionRoute,
    LeftOut,
    MissingFinger,
    Notice,
    NoticeText,
    Occupancy,
    Override,
    PlanResult,
    PlanRun,
    Proposal,
    Purge,
    Response,
    Restore,
    RunPart,
    Session,
    SitePrice,
    Submission,
    Waiting,
)
SHOWN = 6  # columns of a list


class RecordAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    """Codes and names first, never a sealed column; foreign keys by search, not by long lists."""

    list_per_page = 50

    def get_list_display(self, request: HttpRequest) -> list[Any]:
        """Show the first plain columns."""
        fields = [
            field.name
            for field in self.opts.concrete_fields
            if not isinstance(field, SealedField | models.BinaryField)
            and not field.name.endswith("_key")
        ]
        return [name for name in fields if name != "id"][:SHOWN]

    def get_list_select_related(self, request: HttpRequest) -> list[str] | bool:
        """Fetch what the columns name in the same query."""
        shown = self.get_list_display(request)
        related = [
            field.name
            for field in self.opts.concrete_fields
            if field.is_relation and field.name in shown
        ]
        return related or False

    def get_search_fields(self, request: HttpRequest) -> list[str]:
        """Search by what has a code."""
        names = {field.name for field in self.opts.concrete_fields}
        return [name for name in ("code", "reference", "control_number", "name") if name in names]


class RowAdmin(RecordAdmin):
    """A model that a person may edit here; rows of long tables are named by number or look-up."""


class SpanAdmin(RowAdmin):
    """A time on a wall clock: the instants are worked out from it."""

    form = ClockForm
    exclude = ("starts_at", "ends_at")


class ReadOnlyAdmin(RecordAdmin):
    """A model that services write: everybody can look, nobody can edit past the services."""

    def get_exclude(self, request: HttpRequest, obj: Any = None) -> list[str]:
        """Nothing sealed is opened for looking at a table."""
        return [each.name for each in self.opts.concrete_fields if isinstance(each, SealedField)]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody adds."""
        return False

    def has_change_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody changes."""
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        """Nobody deletes."""
        return False


class LoginAdmin(UserAdmin):  # type: ignore[type-arg]
    """Logins, with role and sites; the role says everything that a login may do."""

    list_display = ("username", "role", "is_active", "last_login")
    list_filter = ("role", "is_active")
    fieldsets = (
        (None, {"fields": ("username", "password")}),
        ("Person", {"fields": ("first_name", "last_name", "email")}),
        ("Work", {"fields": ("role", "covers", "is_active")}),
        ("Dates", {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (*UserAdmin.add_fieldsets, ("Work", {"fields": ("role", "covers")}))
    filter_horizontal = ("covers",)


def admin_of(model: type[models.Model]) -> type[RecordAdmin | LoginAdmin]:
    """The admin of a model; foreign keys are looked up, not listed whole."""
    if model is User:
        return LoginAdmin
    related = tuple(field.name for field in model._meta.concrete_fields if field.is_relation)
    base: type[RecordAdmin] = SpanAdmin if issubclass(model, WallSpan) else RowAdmin
    if model in WRITTEN_BY_SERVICES:
        base = ReadOnlyAdmin
    return type(f"{model.__name__}Admin", (base,), {"raw_id_fields": related})


for each in apps.get_app_config("record").get_models():
    admin.site.register(each, admin_of(each))
