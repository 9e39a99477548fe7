"""Putting the triggers in place, and knowing whether they are.

SQLite drops a table's triggers whenever a migration makes the table anew, and refuses to rename a
table that a view names. So they are taken away before every ``migrate`` and put back after it.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from sites.occupancy import postgres, sqlite
from sites.occupancy.sources import SOURCES, view

ENGINES: dict[str, ModuleType] = {"sqlite": sqlite, "postgresql": postgres}
COLUMNS = "source, source_id, kind, resource, starts, ends"


def engine_of(connection: BaseDatabaseWrapper) -> ModuleType:
    """The statements for this database. NotImplementedError where there are none."""
    try:
        return ENGINES[connection.vendor]
    except KeyError:
        raise NotImplementedError(
            f"the record cannot refuse a double booking on {connection.vendor}: set DATABASE_URL "
            "to a SQLite or PostgreSQL database"
        ) from None


def ready(connection: BaseDatabaseWrapper) -> bool:
    """Whether all tables are there (not before the first migrations, nor half way back)."""
    tables = set(connection.introspection.table_names())
    return {"record_occupancy", "record_request", *(source.table for source in SOURCES)} <= tables


def triggers_missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of triggers that should be there and are not."""
    engine = engine_of(connection)
    with connection.cursor() as cursor:
        cursor.execute(engine.PRESENT)
        present = {row[0] for row in cursor.fetchall()}
    return sorted(set(engine.triggers()) - present)


def all_due() -> str:
    """SELECT of everything that must be occupied."""
    return " UNION ALL ".join(f"SELECT {COLUMNS} FROM {view(source)}" for source in SOURCES)


def before_migrate(*, using: str, **_: Any) -> None:
    """Take the triggers and views away."""
    connection = connections[using]
    run(connection, engine_of(connection).remove())


def after_migrate(*, using: str, **_: Any) -> None:
    """Put them back, and make the occupancy what the rows say. An overlap among them is refused."""
    connection = connections[using]
    engine = engine_of(connection)
    if not ready(connection):
        return
    with transaction.atomic(using=using):
        run(connection, [*engine.remove(), *engine.views(), *engine.install_first()])
        run(connection, [*sync_all(), *engine.install_last()])


def run(connection: BaseDatabaseWrapper, statements: list[str]) -> None:
    """Execute statements one after the other."""
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def sync_all() -> list[str]:
    """Statements that make the whole occupancy what the rows say."""
    return [
        f"DELETE FROM record_occupancy WHERE ({COLUMNS}) NOT IN ({all_due()})",
        f"INSERT INTO record_occupancy ({COLUMNS}) SELECT {COLUMNS} FROM "
        f"({all_due()} EXCEPT SELECT {COLUMNS} FROM record_occupancy) AS owed "
        "ORDER BY kind, resource, starts",
    ]
