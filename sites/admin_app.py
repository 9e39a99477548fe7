"""Django's admin behind our own door, as an application."""

from __future__ import annotations

from django.contrib.admin.apps import AdminConfig


class TablesConfig(AdminConfig):
    """In place of ``django.contrib.admin``."""

    default_site = "sites.admin_site.Tables"
