"""What every test run says first: which database the record is tested on."""

from __future__ import annotations

import os

import pytest


def pytest_report_header(config: pytest.Config) -> list[str]:
    """Name the database: a run covers one, ``.ci/run`` both; and say where hostile tests are."""
    url = os.environ.get("DATABASE_URL", "")
    name = "PostgreSQL" if url.startswith(("postgres:", "postgresql:")) else "SQLite"
    other = "" if name == "PostgreSQL" else "; DATABASE_URL=postgres://… runs it on PostgreSQL"
    hostile = "run" if config.option.markexpr == "hostile" else "left out; -m hostile runs them"
    return [f"record: tested on {name}{other}", f"hostile tests: {hostile}"]
