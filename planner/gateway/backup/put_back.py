"""Putting a backup back: into an empty place, or in the place of a record that is kept aside."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

from planner.gateway.backup.make import ENGINES
from planner.gateway.backup.manifest import Manifest, checked, refused
from sites.models import AuditEntry, Programme, Site, Subject, User
from sites.services.restores import restore_keep

SOME = 200  # subjects that are opened to see whether the keys fit
HELD = (Programme, Site, User, AuditEntry)
"""A record with a row of one of these is not empty."""


@dataclass(frozen=True, slots=True)
class PutBack:
    """What was put back; ``aside`` names the record that was there, "" where there was none.

    ``opens`` says whether the keys of this machine open its names and contact data.
    """

    manifest: Manifest
    aside: str
    opens: bool


def put_back(folder: Path, *, replace: bool = False) -> PutBack:
    """Restore a backup and bring it up to this release. Raises FileRefused.

    A record that holds anything is not touched unless ``replace`` is set, and kept beside then.
    The record that comes back has a row, and an entry of its audit, that say so.
    """
    manifest = checked(folder, connection.vendor)
    if holds_something() and not replace:
        where = Path(str(connection.settings_dict["NAME"]))
        remedy = "restore into an empty place, or add --replace: it is kept beside then"
        raise refused(where, "holds a record; nothing was changed", remedy)
    stamp = f"{timezone.now():before-%Y%m%dT%H%M%S}"
    if connection.vendor == "postgresql":
        stamp = stamp.lower().replace("-", "_")
    aside = ENGINES[connection.vendor].load(folder / Path(manifest.file).name, stamp)
    call_command("migrate", verbosity=0, interactive=False)
    restore_keep(made_at=manifest.made_at, digest=manifest.sha256, rows=sum(manifest.rows.values()))
    return PutBack(manifest, aside, opens())


def holds_something() -> bool:
    """Whether there is a record with anything in it."""
    tables = set(connection.introspection.table_names())
    return any(model._meta.db_table in tables and model.objects.exists() for model in HELD)


def opens() -> bool:
    """Whether the keys of this machine open what is sealed."""
    try:
        list(Subject.objects.all()[:SOME])
    except ImproperlyConfigured:
        return False
    return True
