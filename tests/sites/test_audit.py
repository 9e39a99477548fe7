"""Every write leaves an entry, whoever wrote and however; no entry can be changed or taken away."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.db import IntegrityError, connection, transaction

from sites.audit.actor import acting, actor, clean, command, login
from sites.audit.keep import triggers_missing
from sites.audit.sources import TABLE, watched
from sites.models import (
    Appointment,
    AuditEntry,
    Feature,
    Role,
    Site,
    Station,
    Subject,
    Technician,
    User,
)
from sites.services.appointments import appointment_step
from tests.sites.build import World


def entries(after: int = 0, **values: Any) -> list[AuditEntry]:
    """Entries in the order of writing."""
    return list(AuditEntry.objects.filter(pk__gt=after, **values).order_by("pk"))


def last() -> int:
    """The number of the newest entry."""
    return getattr(AuditEntry.objects.order_by("-pk").first(), "pk", 0)


def raw(statement: str, *values: Any) -> None:
    """Plain SQL, as at a prompt of the database."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


def test_every_table_of_the_record_is_watched_but_those_that_triggers_write(here: World) -> None:
    names = {name for name in connection.introspection.table_names() if name.startswith("record_")}
    unwatched = names - {source.table for source in watched()}
    worked_out = {"occupancy", "planresult", "runpart", "siteprice", "leftout", "apicall"}
    waiting = {"intakeblock", "intakefinding"}
    assert unwatched == {f"record_{name}" for name in worked_out | waiting} | {TABLE}
    assert triggers_missing(connection) == []


def test_a_row_that_is_added_changed_and_removed_leaves_three_entries(db: None) -> None:
    with acting(login(7), "req-1"):
        feature = Feature.objects.create(code="ramp", name="Ramp")
        key = feature.pk
        feature.code = "lift"
        feature.name = "Lift"
        feature.save()
        feature.delete()
    found = entries(noun="feature")
    assert [entry.what for entry in found] == ["added", "changed", "removed"]
    assert {entry.key for entry in found} == {key}
    assert {(entry.actor, entry.request) for entry in found} == {("login:7", "req-1")}
    assert found[0].changes == {}
    assert found[1].changes == {"code": ["ramp", "lift"], "name": []}
    assert found[2].changes == {"code": "lift"}


def test_a_write_that_changes_nothing_leaves_no_entry(here: World) -> None:
    before = last()
    here.stations[0].save()
    Station.objects.update(in_use=True)
    assert entries(before) == []


def test_an_update_of_many_rows_leaves_an_entry_for_each(here: World) -> None:
    before = last()
    with acting(command("import_network")):
        assert Station.objects.update(in_use=False) == 2
    found = entries(before)
    assert {entry.key for entry in found} == {station.pk for station in here.stations}
    assert {entry.actor for entry in found} == {"command:import_network"}
    (old, new) = found[0].changes["in_use"]
    assert (bool(old), bool(new)) == (True, False)


def test_bulk_create_and_a_queryset_delete_leave_an_entry_for_each(db: None) -> None:
    before = last()
    Feature.objects.bulk_create(Feature(code=f"f-{number}") for number in range(700))
    added = entries(before, what="added")
    assert len(added) == 700
    assert {entry.key for entry in added} == set(Feature.objects.values_list("pk", flat=True))
    before = last()
    Feature.objects.all().delete()
    removed = entries(before, what="removed")
    assert {entry.changes["code"] for entry in removed} == {f"f-{n}" for n in range(700)}


def test_raw_sql_leaves_an_entry_too(here: World) -> None:
    before = last()
    raw("UPDATE record_station SET in_use = %s WHERE id = %s", False, here.stations[0].pk)
    (entry,) = entries(before)
    assert (entry.noun, entry.key, entry.what) == ("station", here.stations[0].pk, "changed")


def test_a_step_of_an_appointment_says_who_took_it(here: World) -> None:
    one = here.book(here.request("r-1"))
    before = last()
    with acting(login(here.desk.pk), "a-request"):
        appointment_step(appointment=one, action="arrive", by=here.desk)
    by_noun = {entry.noun: entry for entry in entries(before)}
    assert set(by_noun) == {"appointment", "appointmentevent"}
    assert by_noun["appointment"].changes["step"] == ["booked", "arrived"]
    assert {entry.actor for entry in by_noun.values()} == {f"login:{here.desk.pk}"}


def test_who_may_see_a_site_is_heard_of(here: World) -> None:
    lead = here.users[Role.SITE_LEAD]
    lead.covers.clear()
    before = last()
    lead.covers.add(here.site)
    lead.groups.add(Group.objects.create(name="a group"))
    added, group, joined = entries(before)
    assert (added.noun, added.changes) == (
        "user_covers",
        {"user_id": lead.pk, "site_id": here.site.pk},
    )
    assert (group.noun, joined.noun) == ("group", "user_groups")
    lead.covers.clear()
    assert entries(before, what="removed")[0].changes == added.changes


def rolled_back(code: str) -> None:
    """Write a feature and think better of it."""
    with transaction.atomic():
        Feature.objects.create(code=code)
        transaction.set_rollback(True)


def test_what_is_rolled_back_leaves_no_entry(db: None) -> None:
    before = last()
    rolled_back("ramp")
    assert entries(before) == []


def test_after_a_rollback_the_next_writer_is_named_and_not_the_one_before(db: None) -> None:
    with acting(login(1)):
        rolled_back("ramp")
    with acting(login(2)):
        Feature.objects.create(code="lift")
    assert [entry.actor for entry in entries(noun="feature")] == ["login:2"]


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE record_auditentry SET actor = 'login:1'",
        "DELETE FROM record_auditentry",
        "DELETE FROM record_auditentry WHERE id = (SELECT max(id) FROM record_auditentry)",
    ],
)
def test_raw_sql_cannot_change_or_delete_an_entry(here: World, statement: str) -> None:
    before = [(entry.pk, entry.actor, entry.changes) for entry in entries()]
    assert before
    with pytest.raises(IntegrityError, match="append-only"):
        raw(statement)
    assert [(entry.pk, entry.actor, entry.changes) for entry in entries()] == before


def test_the_orm_cannot_change_or_delete_an_entry(here: World) -> None:
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        AuditEntry.objects.update(actor="login:1")
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        AuditEntry.objects.all().delete()
    one = entries()[0]
    with pytest.raises(IntegrityError, match="append-only"), transaction.atomic():
        one.save()


def test_an_entry_cannot_be_put_in_the_place_of_another(here: World) -> None:
    """SQLite's INSERT OR REPLACE, and on PostgreSQL TRUNCATE, take rows away without a DELETE."""
    one = entries()[0]
    statement = "TRUNCATE record_auditentry"
    if connection.vendor == "sqlite":
        statement = (
            "INSERT OR REPLACE INTO record_auditentry "
            "SELECT id, at, 'login:1', request, what, noun, key, changes FROM record_auditentry"
        )
    if connection.vendor == "sqlite":
        raw_pragma(on=False)  # as in another program
    try:
        with pytest.raises(IntegrityError, match="append-only"):
            raw(statement)
    finally:
        if connection.vendor == "sqlite":
            raw_pragma(on=True)
    assert entries()[0].actor == one.actor


def raw_pragma(*, on: bool) -> None:
    """Switch SQLite's recursive triggers, without which REPLACE fires no DELETE trigger."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA recursive_triggers={'ON' if on else 'OFF'}")


def test_of_a_subject_only_names_of_columns_are_kept(db: None) -> None:
    subject = Subject.objects.create(reference="s-9", family_name="Tavoren", phone="+00 123 456")
    subject.family_name, subject.needs_longer = "Tavorin", True
    subject.save()
    subject.delete()
    added, changed, removed = entries(noun="subject")
    assert added.changes == {}
    assert removed.changes == {}
    # the phone too: the same text makes another token each time it is written
    assert set(changed.changes) == {"family_name", "family_name_key", "needs_longer", "phone"}
    assert set(map(str, changed.changes.values())) == {"[]"}


def test_of_a_login_neither_name_nor_password_is_kept(db: None) -> None:
    user = User.objects.create_user("ilmi", email="i@example.invalid")
    user.role = Role.MANAGER
    user.set_password("another")
    user.first_name = "Ilmi"
    user.save()
    (changed,) = entries(noun="user", what="changed")
    assert changed.changes == {
        "role": ["technician", "manager"],
        "password": [],
        "first_name": [],
    }


def test_text_that_somebody_types_is_never_kept(here: World) -> None:
    """Codes, words of a list, numbers, dates and links are; new text is not, by default."""
    typed = {
        "appointment": {"why"},
        "appointmentevent": {"what", "why"},
        "notice": {"detail"},
        "session": {"note"},
        "override": {"reason"},
        "response": {"detail"},
        "technician": {"name"},
        "request": {"control_number", "closed_why"},
        "subject": {"reference", "given_name", "family_name", "phone", "email", "language"},
        "user": {"username", "first_name", "last_name", "email", "password"},
    }
    by_noun = {source.noun: source for source in watched()}
    for noun, columns in typed.items():
        assert columns <= set(by_noun[noun].heard)
        assert not columns & set(by_noun[noun].loud)
    one = here.book(here.request("r-1"))
    Appointment.objects.filter(pk=one.pk).update(why="called by Ms Tavoren", minute=601)
    changed = entries(noun="appointment", what="changed")[-1]
    assert changed.changes["why"] == []
    assert changed.changes["minute"] == [600, 601]


def test_a_column_that_was_empty_or_becomes_so_says_so(here: World) -> None:
    technician = Technician.objects.all()[0]
    technician.since = date(2026, 1, 5)
    technician.save()
    Technician.objects.filter(pk=technician.pk).update(since=None)
    first, second = entries(noun="technician", what="changed")[-2:]
    assert first.changes == {"since": [None, "2026-01-05"]}
    assert second.changes == {"since": ["2026-01-05", None]}


def test_a_name_cannot_break_out_of_the_comment_that_carries_it(db: None) -> None:
    with acting("login:1 */ DROP TABLE record_site; --", "id */ %s ' \n"):
        assert actor() == "login:1____DROP_TABLE_record_site__--"
        Site.objects.create(code="site-9", name="Site */ %s", timezone="UTC")
    (entry,) = entries(noun="site")
    assert entry.actor == "login:1____DROP_TABLE_record_site__--"
    assert entry.request == "id_____s____"
    assert clean("x" * 200) == "x" * 80


def test_who_writes_is_asked_at_each_write(db: None) -> None:
    """A person signs in within a request: the sign-in itself is theirs."""
    who = ["nobody:page"]
    with acting(lambda: who[0], "one-request"):
        Feature.objects.create(code="before")
        who[0] = "login:5"
        Feature.objects.create(code="after")
    assert [entry.actor for entry in entries(noun="feature")] == ["nobody:page", "login:5"]
