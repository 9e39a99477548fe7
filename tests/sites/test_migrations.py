"""Migrations go from zero to now and back, and what they leave refuses a double booking."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.db.migrations.executor import MigrationExecutor

from sites.audit import keep as audit
from sites.models import Appointment, PlanRun, RunState
from sites.occupancy.keep import after_migrate, before_migrate, triggers_missing
from tests.sites.build import DAY, World, world
from tests.sites.test_occupancy import copy, raw_insert

pytestmark = pytest.mark.django_db(transaction=True)


def tables() -> set[str]:
    """The record's tables."""
    names = connection.introspection.table_names()
    return {name for name in names if name.startswith("record_")}


def test_from_zero_and_back_and_again() -> None:
    before = tables()
    assert len(before) > 35
    call_command("migrate", "record", "zero", verbosity=0)
    try:
        assert tables() == set()
    finally:
        call_command("migrate", verbosity=0)
    assert tables() == before
    assert triggers_missing(connection) == []
    assert audit.triggers_missing(connection) == []
    still_refuses(world())


def test_runs_from_before_there_were_background_runs_count_as_kept() -> None:
    call_command("migrate", "record", "0002", verbosity=0)
    try:
        before = MigrationExecutor(connection).loader.project_state([("record", "0002_occupancy")])
        old = before.apps.get_model("record", "PlanRun")
        old.objects.create(first_day=DAY, days=1, objective=3.5)
    finally:
        call_command("migrate", verbosity=0)
    row = PlanRun.objects.get()
    assert (row.state, row.objective, row.attempt) == (RunState.KEPT, 3.5, 0)
    assert row.kept_at == row.ended_at == row.started_at == row.created_at


def test_models_and_migrations_say_the_same() -> None:
    call_command("makemigrations", "record", check=True, dry_run=True, verbosity=0)


def test_a_migration_that_makes_a_table_anew_keeps_the_triggers() -> None:
    """SQLite drops a table's triggers with the old table: `migrate` must put them back."""
    here = world()
    here.book(here.request("r-0"), 900)
    before_migrate(using="default")
    audit.before_migrate(using="default")
    assert triggers_missing(connection) != []
    assert audit.triggers_missing(connection) != []
    field = Appointment._meta.get_field("why")
    with connection.schema_editor() as editor:
        editor.alter_field(Appointment, field, field, strict=True)
        if connection.vendor == "sqlite":
            editor._remake_table(Appointment)  # type: ignore[attr-defined]
    after_migrate(using="default")
    audit.after_migrate(using="default")
    assert triggers_missing(connection) == []
    assert audit.triggers_missing(connection) == []
    still_refuses(here)


def test_an_overlap_that_got_in_meanwhile_is_not_taken_over() -> None:
    here = world()
    first = here.book(here.request("r-1"))
    before_migrate(using="default")
    row = copy(first, here, "r-2")
    raw_insert(row)
    with pytest.raises(IntegrityError, match="occup"):
        after_migrate(using="default")
    Appointment.objects.filter(code="r-2").delete()
    after_migrate(using="default")
    assert triggers_missing(connection) == []


def still_refuses(here: World) -> None:
    """The database refuses an overlap by raw SQL."""
    first = here.book(here.request("r-a"))
    with pytest.raises(IntegrityError, match="occup"), transaction.atomic():
        raw_insert(copy(first, here, "r-b"))
