"""The record as a Django application."""

from __future__ import annotations

from django.apps import AppConfig


class RecordConfig(AppConfig):
    """Package ``sites``, label ``record``: Django's own sites framework has taken the other."""

    name = "sites"
    label = "record"
    verbose_name = "Record"
    default_auto_field = "django.db.models.BigAutoField"
