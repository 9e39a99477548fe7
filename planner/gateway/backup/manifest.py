"""What a backup says of itself, and whether it is still what it says."""

from __future__ import annotations

from datetime import datetime
from hashlib import file_digest
from pathlib import Path

import msgspec
from django.db.migrations.loader import MigrationLoader

from planner.engine.errors import Fault, FileRefused

NAME = "manifest.json"
FORMAT = 1
KEYS = (
    "not included: PLATEN_CONTACT_KEYS and PLATEN_LOOKUP_KEY are needed to read and find people; "
    "keep them apart from this folder"
)


class Manifest(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """``rows`` counts each table, ``migrations`` names those that were applied, by application.

    ``sha256`` and ``size`` (bytes) are those of ``file``.
    """

    format: int
    made_at: datetime
    engine: str
    file: str
    size: int
    sha256: str
    migrations: dict[str, list[str]]
    rows: dict[str, int]
    keys: str = KEYS


def digest(path: Path) -> str:
    """SHA-256 of a file, in hex."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def write(folder: Path, manifest: Manifest) -> None:
    """Put the manifest into the folder."""
    text = msgspec.json.format(msgspec.json.encode(manifest), indent=2)
    (folder / NAME).write_bytes(text + b"\n")


def checked(folder: Path, engine: str) -> Manifest:
    """The manifest of a backup that is whole and fits this database. Raises FileRefused."""
    try:
        found = msgspec.json.decode((folder / NAME).read_bytes(), type=Manifest)
    except OSError as error:
        problem = f"cannot be read ({error.strerror or error})"
        raise refused(folder / NAME, problem, "name a folder that `backup` made") from error
    except msgspec.DecodeError as error:
        raise refused(folder / NAME, f"is no manifest ({error})", "take another backup") from error
    if found.format != FORMAT:
        problem = f"has format {found.format}, not {FORMAT}"
        raise refused(folder / NAME, problem, "restore it with the release that made it")
    if found.engine != engine:
        problem = f"is of {found.engine}, and this record is on {engine}"
        raise refused(folder, problem, "set DATABASE_URL to a database of that kind")
    file = folder / Path(found.file).name
    if not file.is_file() or file.stat().st_size != found.size or digest(file) != found.sha256:
        problem = "is not what its manifest says: it was cut short or changed"
        raise refused(file, problem, "take another backup")
    unknown = sorted(unknown_migrations(found.migrations))
    if unknown:
        problem = f"was made by a later release ({unknown[0]})"
        raise refused(folder, problem, "restore it with that release or a later one")
    return found


def unknown_migrations(applied: dict[str, list[str]]) -> set[str]:
    """Migrations that this program does not know, of the applications that it knows."""
    known = set(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)
    apps = {app for app, _ in known}
    return {
        f"{app}.{name}"
        for app, names in applied.items()
        for name in names
        if app in apps and (app, name) not in known
    }


def refused(path: Path, problem: str, remedy: str) -> FileRefused:
    """The error for a backup that cannot be used."""
    return FileRefused([Fault(str(path), problem, remedy)])
