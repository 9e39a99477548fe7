"""The bulk path into an empty record: every constraint and every trigger is at work.

On SQLite many rows an INSERT, on PostgreSQL COPY. All of it is one transaction: a row that breaks a
rule leaves nothing behind. Only the audit does not hear of it: its rows are invented, nobody did
anything, and 890,000 entries would say no more than that the demo was made.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from django.core.management.color import no_style
from django.db import connection, models
from django.db.models.fields import NOT_PROVIDED

from planner.engine.errors import Fault, FileRefused
from planner.gateway.demo.tables import ORDER, Tables
from sites.audit.keep import unheard
from sites.models import Programme, Site, User
from sites.models.sealed import SealedField

MARK = "invented"
"""How the codes of every programme of the demo begin: what tells its record from a real one."""
BATCH = 400
Row = tuple[Any, ...]


def refuse_foreign() -> None:
    """Raise FileRefused where the database holds what no demo has made; it is only looked at."""
    tables = connection.introspection.table_names()
    if not tables:
        return
    if Programme._meta.db_table not in tables:
        raise FileRefused(
            [
                Fault(
                    "database",
                    "holds tables of something else; nothing was changed",
                    "set DATABASE_URL to an empty database, or leave it out",
                )
            ]
        )
    foreign = Programme.objects.exclude(code__startswith=MARK).exists()
    mine = Programme.objects.filter(code__startswith=MARK).exists()
    anything = Site.objects.exists() or User.objects.exists()
    if foreign or (anything and not mine):
        raise FileRefused(
            [
                Fault(
                    "database",
                    "holds a record that is not the demo's; nothing was changed",
                    "set DATABASE_URL to an empty database, or leave it out",
                )
            ]
        )


def load(tables: Tables) -> int:
    """Write every row into the empty record, or none; how many there were is returned."""
    write = copy if connection.vendor == "postgresql" else insert
    with unheard(connection):
        for model in ORDER:
            rows = tables.rows[model]
            if rows:
                write(model, columns_of(model), tuples(model, rows))
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                for statement in connection.ops.sequence_reset_sql(no_style(), list(ORDER)):
                    cursor.execute(statement)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return tables.count


def columns_of(model: type[models.Model]) -> list[str]:
    """Every column of the table."""
    return [str(field.column) for field in model._meta.concrete_fields]


def tuples(model: type[models.Model], rows: list[dict[str, Any]]) -> Iterator[Row]:
    """The rows in the columns' order; a field that a row leaves out has its default."""
    fields = model._meta.concrete_fields
    parts = [(str(field.column), default_of(field), prepared(field)) for field in fields]
    known = {field.column for field in fields}
    for row in rows:
        if not row.keys() <= known:
            raise KeyError(f"{model.__name__} has no {sorted(row.keys() - known)}")
        yield tuple(
            [
                prepare(row.get(column, default)) if prepare else row.get(column, default)
                for column, default, prepare in parts
            ]
        )


def default_of(field: models.Field[Any, Any]) -> Any:
    """What a field holds where nothing is said."""
    if field.default is not NOT_PROVIDED:
        return field.get_default()
    return None if field.null else ""


def prepared(field: models.Field[Any, Any]) -> Callable[[Any], Any] | None:
    """How a field's values are written, where not as they are."""
    if isinstance(field, SealedField):
        return field.get_prep_value
    if isinstance(field, models.DateTimeField) and connection.vendor == "sqlite":
        return utc_text
    if isinstance(field, models.DateField) and connection.vendor == "sqlite":
        return lambda day: None if day is None else day.isoformat()
    return None


def utc_text(at: datetime | None) -> str | None:
    """An instant as Django writes it into SQLite."""
    return None if at is None else str(at.astimezone(UTC).replace(tzinfo=None))


def insert(model: type[models.Model], columns: list[str], rows: Iterator[Row]) -> None:
    """INSERT statements of many rows each."""
    many = max(1, min(BATCH, 30_000 // len(columns)))
    quoted = ", ".join(connection.ops.quote_name(name) for name in columns)
    line = f"({', '.join(['%s'] * len(columns))})"
    head = f"INSERT INTO {connection.ops.quote_name(model._meta.db_table)} ({quoted}) VALUES "  # noqa: S608 - our own names
    with connection.cursor() as cursor:
        while batch := list(islice(rows, many)):
            cursor.execute(
                head + ", ".join([line] * len(batch)), [value for row in batch for value in row]
            )


def copy(model: type[models.Model], columns: list[str], rows: Iterator[Row]) -> None:
    """COPY in its text form, put together here: a row at a time it takes several times as long."""
    quoted = ", ".join(connection.ops.quote_name(name) for name in columns)
    table = connection.ops.quote_name(model._meta.db_table)
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} ({quoted}) FROM STDIN") as out:
        while batch := list(islice(rows, BATCH)):
            out.write("".join("\t".join(map(written, row)) + "\n" for row in batch))


def written(value: Any) -> str:
    """A value as COPY's text form has it."""
    if value is None:
        return r"\N"
    text = str(value)
    if "\\" in text or "\t" in text or "\n" in text:
        text = text.replace("\\", r"\\").replace("\t", r"\t").replace("\n", r"\n")
    return text
