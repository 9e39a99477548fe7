"""Copies of a PostgreSQL database by its own tools, from the state of one moment."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psycopg
from django.db import connection, transaction
from psycopg import sql

from planner.gateway.backup.manifest import refused

FILE = "record.dump"
SNAPSHOT = "SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY"


def name() -> str:
    """The name of the record's database."""
    return str(connection.settings_dict["NAME"])


def run(tool: str, *arguments: str, database: str) -> None:
    """Run a tool of PostgreSQL's on a database; the password goes by the environment alone."""
    settings = connection.settings_dict
    path = shutil.which(tool)
    if path is None:
        problem = "is not on this machine"
        raise refused(Path(tool), problem, "install PostgreSQL's client programs")
    where = {
        "PGHOST": settings["HOST"],
        "PGPORT": settings["PORT"],
        "PGUSER": settings["USER"],
        "PGPASSWORD": settings["PASSWORD"],
        "PGDATABASE": database,
    }
    done = subprocess.run(  # noqa: S603 - a tool by its path, no words from outside
        [path, "--no-password", *arguments],
        env={**os.environ, **{key: str(value) for key, value in where.items() if value}},
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        said = done.stderr.strip().splitlines()
        problem = f"{tool} failed ({said[0] if said else done.returncode})"
        raise refused(Path(database), problem, "look at the server, its version and its rights")


def dump(folder: Path) -> tuple[str, dict[str, int]]:
    """Dump the record into a folder; the file's name and its rows by table, of the same moment."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(SNAPSHOT)
        cursor.execute("SELECT pg_export_snapshot()")
        (snapshot,) = cursor.fetchone()
        run(
            "pg_dump",
            *("--format=custom", "--no-owner", "--no-privileges"),
            *(f"--snapshot={snapshot}", f"--file={folder / FILE}"),
            f"--dbname={name()}",
            database=name(),
        )
        tables = connection.introspection.table_names(cursor)
        rows = {}
        for table in sorted(tables):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")  # noqa: S608 - its own names
            rows[table] = int(cursor.fetchone()[0])
    return FILE, rows


@contextmanager
def beside() -> Iterator[psycopg.Connection[Any]]:
    """A connection to another database of the server, which can rename the record's."""
    settings = connection.settings_dict
    connection.close()
    where = {
        "host": settings["HOST"],
        "port": settings["PORT"],
        "user": settings["USER"],
        "password": settings["PASSWORD"],
    }
    known = {key: value for key, value in where.items() if value}
    with psycopg.connect(dbname="postgres", autocommit=True, **known) as found:
        yield found


def load(file: Path, aside: str) -> str:
    """Restore into a new database and give it the record's name; the old one is kept, and named.

    Nobody may be connected to the record meanwhile: PostgreSQL refuses, and nothing has changed.
    """
    record, new, kept = name(), f"{name()}_{aside}_new", f"{name()}_{aside}"
    nothing = not connection.introspection.table_names()
    with beside() as server:
        server.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(new)))
        try:
            run(
                "pg_restore",
                *("--exit-on-error", "--single-transaction", "--no-owner", "--no-privileges"),
                *(f"--dbname={new}", str(file)),
                database=new,
            )
            rename(server, record, kept)
        except BaseException:
            server.execute(sql.SQL("DROP DATABASE {}").format(sql.Identifier(new)))
            raise
        try:
            rename(server, new, record)
        except BaseException:
            with suppress(psycopg.Error):
                rename(server, kept, record)
            raise
        if nothing:
            server.execute(sql.SQL("DROP DATABASE {}").format(sql.Identifier(kept)))
    return "" if nothing else kept


def rename(server: psycopg.Connection[Any], old: str, new: str) -> None:
    """Rename a database. Raises FileRefused where somebody is connected to it."""
    names = sql.Identifier(old), sql.Identifier(new)
    try:
        server.execute(sql.SQL("ALTER DATABASE {} RENAME TO {}").format(*names))
    except psycopg.Error as error:
        problem = f"cannot be renamed ({str(error).splitlines()[0]})"
        raise refused(Path(old), problem, "stop the server and the workers first") from error
