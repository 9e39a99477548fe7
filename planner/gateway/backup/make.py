"""Making a backup: beside its place first, then moved there whole."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from types import ModuleType

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from planner.gateway.backup import manifest, postgres, sqlite
from planner.gateway.backup.manifest import FORMAT, Manifest, digest, refused

ENGINES: dict[str, ModuleType] = {"sqlite": sqlite, "postgresql": postgres}


def make(target: Path) -> Manifest:
    """Back the record up into a new folder. Raises FileRefused; nothing is left behind then.

    The copy is of one moment, whoever writes meanwhile. The folder is for its owner alone.
    """
    if target.exists():
        raise refused(target, "is there already", "name a folder that is not there")
    try:
        scratch = Path(tempfile.mkdtemp(dir=target.parent, prefix=f".{target.name}."))
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise refused(target, problem, "name a place that can be written") from error
    try:
        migrations = applied()
        made_at = timezone.now()
        file, rows = ENGINES[connection.vendor].dump(scratch)
        path = scratch / file
        os.chmod(path, 0o600)
        made = Manifest(
            format=FORMAT,
            made_at=made_at,
            engine=connection.vendor,
            file=file,
            size=path.stat().st_size,
            sha256=digest(path),
            migrations=migrations,
            rows=rows,
        )
        manifest.write(scratch, made)
        for each in scratch.iterdir():
            with each.open("rb") as written:
                os.fsync(written.fileno())
        os.rename(scratch, target)
    except BaseException:
        shutil.rmtree(scratch, ignore_errors=True)
        raise
    return made


def applied() -> dict[str, list[str]]:
    """The migrations of the record, by application. Raises FileRefused where there is none."""
    found: dict[str, list[str]] = {}
    for app, name in sorted(MigrationRecorder(connection).applied_migrations()):
        found.setdefault(app, []).append(name)
    if "record" not in found:
        where = Path(str(connection.settings_dict["NAME"]))
        raise refused(where, "holds no record", "check DATABASE_URL and PLATEN_VAR")
    return found
