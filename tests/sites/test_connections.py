"""How a connection begins."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection

from sites.connections import on_connect


class Driver:
    """Stands for a driver's connection: keeps what it is told."""

    def __init__(self, vendor: str) -> None:
        self.vendor, self.connection, self.told = vendor, self, list[str]()

    def execute(self, sql: str) -> None:
        """Keep it."""
        self.told.append(sql)


@pytest.mark.parametrize(("vendor", "told"), [("postgresql", ["SET jit = off"]), ("sqlite", [])])
def test_postgresql_alone_is_told_to_compile_nothing(vendor: str, told: list[str]) -> None:
    driver: Any = Driver(vendor)
    on_connect(connection=driver)
    assert driver.told == told


@pytest.mark.django_db
def test_a_connection_of_the_record_compiles_nothing() -> None:
    """PostgreSQL lists its setting; SQLite has no such option and compiles nothing either."""
    asked = {
        "postgresql": "SELECT count(*) FROM pg_settings WHERE name = 'jit' AND setting = 'on'",
        "sqlite": "SELECT count(*) FROM pragma_compile_options WHERE compile_options LIKE '%JIT%'",
    }
    with connection.cursor() as cursor:
        cursor.execute(asked[connection.vendor])
        assert cursor.fetchone() == (0,)
