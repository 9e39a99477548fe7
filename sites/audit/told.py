"""Telling each connection who writes, at the moment of writing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from sites.audit.actor import actor, request_id

READS = ("SELECT", "SAVEPOINT", "RELEASE", "ROLLBACK")


@dataclass(slots=True)
class Told:
    """What a connection knows of who is writing; an execute wrapper of Django's."""

    vendor: str
    actor: str = ""
    request: str = ""

    def __call__(
        self, execute: Callable[..., Any], sql: Any, params: Any, many: bool, context: Any
    ) -> Any:
        """Ask who writes before every statement that may write."""
        if not (isinstance(sql, str) and sql.startswith(READS)):
            self.actor, self.request = actor(), request_id()
            if self.vendor == "postgresql" and isinstance(sql, str):
                sql = f"/* platen {self.actor} {self.request} */ {sql}"
        return execute(sql, params, many, context)


def on_connect(*, connection: BaseDatabaseWrapper, **_: Any) -> None:
    """Prepare a new connection; its wrapper goes first, where no block of a caller ends it."""
    wrappers: list[Any] = connection.execute_wrappers
    told = next((each for each in wrappers if isinstance(each, Told)), None)
    if told is None:
        told = Told(connection.vendor)
        wrappers.insert(0, told)
    if connection.vendor == "sqlite":
        raw: Any = connection.connection
        raw.create_function("record_audit_actor", 0, lambda: told.actor or actor())
        raw.create_function("record_audit_request", 0, lambda: told.request)
