"""Copies of a SQLite database by its own online backup: one read of it all, writers go on."""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

from django.db import connection

from planner.gateway.backup.manifest import refused

FILE = "record.sqlite3"
PATIENCE = 30.0
"""Seconds for which a copy waits for a lock."""
LOCKED = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)


def record() -> Path:
    """The file of the record."""
    return Path(connection.settings_dict["NAME"])


def copy(source: Path, target: Path) -> None:
    """Copy a database in one transaction; the target is overwritten in one transaction too.

    Raises FileRefused where somebody writes into the target all the time, or it is no database.
    """
    try:
        with (
            closing(sqlite3.connect(f"file:{source}?mode=ro", uri=True)) as old,
            closing(sqlite3.connect(target)) as new,
        ):
            old.backup(new, progress=patience(target), sleep=0.1)
    except sqlite3.Error as error:
        problem = f"cannot be copied to {target} ({error})"
        raise refused(source, problem, "stop what writes there and try again") from error


def patience(target: Path) -> Callable[[int, int, int], None]:
    """A function for the copy's progress that gives up after `PATIENCE` seconds of locks."""
    until = time.monotonic() + PATIENCE

    def wait(status: int, remaining: int, total: int) -> None:
        if status in LOCKED and time.monotonic() > until:
            raise refused(target, "is being written", "stop the server and the workers first")

    return wait


def dump(folder: Path) -> tuple[str, dict[str, int]]:
    """Copy the record into a folder; the file's name and its rows by table."""
    target = folder / FILE
    copy(record(), target)
    with closing(sqlite3.connect(target)) as made:
        made.execute("PRAGMA journal_mode=DELETE")  # one file, nothing beside it
        found = made.execute("PRAGMA quick_check").fetchone()[0]
        if found != "ok":
            raise refused(record(), f"is damaged ({found})", "restore an earlier backup")
        return FILE, counts(made)


def counts(made: sqlite3.Connection) -> dict[str, int]:
    """Rows by table."""
    names = made.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'"
    ).fetchall()
    return {
        name: made.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608 - its own names
        for (name,) in sorted(names)
    }


def load(file: Path, aside: str) -> str:
    """Put a copy in the record's place; what was there is kept beside it, and named."""
    target = record()
    kept = ""
    something = bool(connection.introspection.table_names())
    connection.close()
    if something:
        kept = f"{target}.{aside}"
        copy(target, Path(kept))
    copy(file, target)
    return kept
