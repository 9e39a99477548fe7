"""The record as a Django application."""

from __future__ import annotations

from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.backends.signals import connection_created
from django.db.models.signals import post_migrate, pre_migrate

from sites import connections
from sites.audit import keep as audit
from sites.audit.told import on_connect
from sites.checks import keys_are_set
from sites.occupancy.keep import after_migrate, before_migrate


class RecordConfig(AppConfig):
    """Package ``sites``, label ``record``: Django's own sites framework has taken the other."""

    name = "sites"
    label = "record"
    verbose_name = "Record"
    default_auto_field = "django.db.models.BigAutoField"

    def ready(self) -> None:
        """Ask for the keys; keep the triggers through every migration; say who writes."""
        register(keys_are_set, Tags.database)
        pre_migrate.connect(before_migrate, sender=self, dispatch_uid="occupancy")
        post_migrate.connect(after_migrate, sender=self, dispatch_uid="occupancy")
        pre_migrate.connect(audit.before_migrate, sender=self, dispatch_uid="audit")
        post_migrate.connect(audit.after_migrate, sender=self, dispatch_uid="audit")
        connection_created.connect(on_connect, dispatch_uid="audit")
        connection_created.connect(connections.on_connect, dispatch_uid="connections")
