"""Putting the audit's triggers in place, and knowing whether they are.

Like those of the occupancy they are taken away before every ``migrate`` and put back after it: what
a migration itself does to rows is a release's doing and is not in the audit.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

from django.db import connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper

from sites.audit import postgres, sqlite
from sites.audit.sources import TABLE, watched

ENGINES: dict[str, ModuleType] = {"sqlite": sqlite, "postgresql": postgres}


def triggers_missing(connection: BaseDatabaseWrapper) -> list[str]:
    """Names of triggers that should be there and are not."""
    engine = ENGINES[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(engine.PRESENT)
        present = {row[0] for row in cursor.fetchall()}
    return sorted(set(engine.triggers()) - present)


def before_migrate(*, using: str, **_: Any) -> None:
    """Take away whatever triggers are there, also those of tables that no model knows any more."""
    remove(connections[using])


def after_migrate(*, using: str, **_: Any) -> None:
    """Put them back, once all tables are there (not half way through the migrations)."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    if {TABLE, *(source.table for source in watched())} <= tables:
        with transaction.atomic(using=using):
            remove(connection)
            install(connection)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away."""
    engine = ENGINES[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(engine.DROPS)
        for (statement,) in cursor.fetchall():
            cursor.execute(statement)


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers in place."""
    with connection.cursor() as cursor:
        for statement in ENGINES[connection.vendor].install():
            cursor.execute(statement)


@contextmanager
def unheard(connection: BaseDatabaseWrapper) -> Iterator[None]:
    """Write without entries, in a transaction of its own: for an empty record of invented data."""
    with transaction.atomic(using=connection.alias):
        remove(connection)
        yield
        install(connection)
