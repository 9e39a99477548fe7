"""Making the demo's record from nothing: migrate, empty what an earlier demo left, load."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import date
from time import perf_counter

from django.contrib.auth.hashers import make_password
from django.core.management import call_command
from django.db import DEFAULT_DB_ALIAS

from planner.gateway.demo.load import load, refuse_foreign
from planner.gateway.demo.past import make_past
from planner.gateway.demo.tables import Tables
from sites.audit import keep as audit
from sites.models import Programme, Request, Role, Session
from sites.occupancy.keep import before_migrate

SEED = 1


@dataclass(frozen=True, slots=True)
class Built:
    """What was loaded; ``password`` opens every login of `logins`, until the demo is made again."""

    today: date
    requests: int
    sessions: int
    rows: int
    made_seconds: float
    loaded_seconds: float
    password: str


def logins() -> list[tuple[str, str]]:
    """One login a role: what the role is called, and the name to sign in with."""
    return [(role.label, role.value) for role in Role]


def build(today: date, seed: int = SEED) -> Built:
    """Make the record anew. Raises FileRefused where the database is not the demo's to write."""
    refuse_foreign()
    call_command("migrate", verbosity=0, interactive=False)
    empty()
    begun = perf_counter()
    password = secrets.token_urlsafe(6)
    tables: Tables = make_past(today, seed, make_password(password))
    made = perf_counter()
    rows = load(tables)
    return Built(
        today,
        len(tables.rows[Request]),
        len(tables.rows[Session]),
        rows,
        made - begun,
        perf_counter() - made,
        password,
    )


def empty() -> None:
    """Take an earlier demo's rows away, the triggers off meanwhile: they would look at each row."""
    if Programme.objects.exists():
        before_migrate(using=DEFAULT_DB_ALIAS)
        audit.before_migrate(using=DEFAULT_DB_ALIAS)
        call_command("flush", verbosity=0, interactive=False)


def built_lines(built: Built) -> list[str]:
    """What the record holds, in words."""
    return [
        f"The demo record, all invented: it is {built.today:%A %-d %B %Y} there, with nine months "
        f"behind it: {built.requests:,} requests, {built.sessions:,} sessions, "
        f"{built.rows:,} rows.",
        f"made        {built.made_seconds:.1f} s, loaded {built.loaded_seconds:.1f} s",
    ]


def login_lines(password: str) -> list[str]:
    """One line a role."""
    return [
        "Sign in (demo only, a new password every time):",
        *(f"  {label:<14} {name:<14} {password}" for label, name in logins()),
    ]
