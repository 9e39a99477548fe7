"""What every test run says first: which database the record is tested on."""

from __future__ import annotations

import os


def pytest_report_header() -> str:
    """Name the database: a run covers one, and ``.ci/run`` covers both."""
    url = os.environ.get("DATABASE_URL", "")
    name = "PostgreSQL" if url.startswith(("postgres:", "postgresql:")) else "SQLite"
    other = "" if name == "PostgreSQL" else "; DATABASE_URL=postgres://… runs it on PostgreSQL"
    return f"record: tested on {name}{other}"
