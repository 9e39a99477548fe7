"""Names and contact data go by the programme's rule, and nothing else changes."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from sites.models import (
    AuditEntry,
    ProgrammeVersion,
    Purge,
    Request,
    RequestSite,
    ResponseKind,
    Subject,
)
from sites.selectors.retention import subjects_due, subjects_held
from sites.selectors.typed import GONE
from sites.services.purge import purge_batch, purge_begin
from sites.services.requests import request_close, request_rework
from sites.services.submissions import (
    response_contacted,
    response_read,
    response_receive,
    submission_send,
)
from tests.sites.build import DAY, NOW, World

ROOT = Path(__file__).resolve().parents[2]
LONG = 365  # the default of a programme's version
PLANTED = {
    "given_name": "Ilmi",
    "family_name": "Tavoren",
    "phone": "+00 555",
    "email": "t@example.invalid",
    "language": "de",
    "needs_access": True,
    "needs_longer": True,
}


def person(name: str, **values: Any) -> Subject:
    """A subject with everything that can be known of one."""
    return Subject.objects.create(reference=f"s-{name}", **{**PLANTED, **values})


def over(here: World, name: str, at: datetime = NOW, **values: Any) -> Request:
    """A request that was closed."""
    values.setdefault("subject", None)
    request = here.request(name, **{**values, "subject": values["subject"] or person(name)})
    return request_close(request=request, why="withdrawn", at=at)


def due(today: date) -> list[str]:
    """References of whose data are due."""
    return [row.reference for row in subjects_due(today=today)]


def run(*words: str) -> str:
    """What the command says."""
    said = StringIO()
    call_command("purge_personal_data", *words, stdout=said, stderr=StringIO())
    return said.getvalue()


def test_data_stay_for_the_days_of_the_rule_and_go_after_them(here: World) -> None:
    over(here, "r-1")
    assert due(DAY + timedelta(days=LONG)) == []
    assert due(DAY + timedelta(days=LONG + 1)) == ["s-r-1"]


def test_the_days_are_those_of_the_terms_that_the_request_came_under(here: World) -> None:
    """A programme's rule changes on a day; requests from before keep theirs."""
    over(here, "old")
    ProgrammeVersion.objects.create(
        programme=here.programme, starts_on=DAY + timedelta(days=1), retention_days=30
    )
    over(here, "new", received=DAY + timedelta(days=1))
    assert due(DAY + timedelta(days=31)) == ["s-new"]
    assert due(DAY + timedelta(days=LONG + 1)) == ["s-old", "s-new"]


def test_an_open_request_keeps_them_however_old(here: World) -> None:
    one = person("both")
    over(here, "r-1", subject=one)
    here.request("r-2", subject=one)
    later = DAY + timedelta(days=5000)
    assert due(later) == []
    held = subjects_held(today=later)
    assert (held.open, held.lapsed, held.due) == (1, 1, 0)
    assert subjects_held(today=DAY).lapsed == 0


def test_an_accepted_set_begins_the_time_and_a_returned_one_waits_for_its_rework(
    here: World,
) -> None:
    sent = answered(here, "good", 540, ResponseKind.ACCEPTED)
    back = answered(here, "back", 600, ResponseKind.IMAGE)
    response_read(response=back, by=here.desk, at=NOW)
    response_contacted(response=back, at=NOW)
    again = request_rework(response=back, reference="back-2", today=DAY)
    assert sent.submission.request.closed_at is None
    end = DAY + timedelta(days=LONG + 1)
    assert due(end) == ["s-good"]
    request_close(request=again, why="withdrawn", at=NOW)
    assert due(end) == ["s-good", "s-back"]


def answered(here: World, name: str, minute: int, kind: ResponseKind) -> Any:
    """What came back for a request's set."""
    session = here.session(here.request(name, subject=person(name, needs_access=False)), minute)
    type(session).objects.filter(pk=session.pk).update(
        started_at=NOW,
        ended_at=NOW,
        ended_how="complete",
        identity_checked_at=NOW,
        identity_checked_by=here.taker,
    )
    session.refresh_from_db()
    sent = submission_send(session=session, control_number=f"c-{name}", at=NOW)
    return response_receive(submission=sent, kind=kind, at=NOW)


def test_the_dry_run_is_first_and_changes_nothing(here: World) -> None:
    over(here, "r-1")
    before = list(Subject.objects.values())
    said = run("--as-of", f"{date.today()}")
    assert Subject.objects.values()[0] == before[0]
    assert "p-one: 0 people to purge; kept after the end for 365 days (from 2026-01-01)" in said
    assert "nothing was changed; --apply purges 0 people" in said
    assert "the programme's policy and the law" in said
    assert not Purge.objects.exists()


def test_applied_it_takes_the_person_away_and_leaves_all_else(here: World, settings: Any) -> None:
    settings.DEMO = True  # invented data: any day can be asked for
    over(here, "gone")
    stays = here.request("stays", subject=person("stays"))
    rows = list(Request.objects.order_by("pk").values())
    rows[0]["closed_why"] = GONE
    said = run("--apply", "--as-of", f"{DAY + timedelta(days=LONG + 1)}")
    assert "purged 1 people (p-one 1)" in said
    assert list(Request.objects.order_by("pk").values()) == rows
    gone = Subject.objects.get(reference="s-gone")
    for name in PLANTED:
        assert not getattr(gone, name), name
    assert (gone.family_name_key, gone.phone_key, gone.email_key) == ("", "", "")
    stays.subject.refresh_from_db()
    assert stays.subject.family_name == "Tavoren"
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM record_subject WHERE reference = 's-gone'")
        assert sum(isinstance(each, str) and len(each) > 6 for each in cursor.fetchone()) == 0
    purge = Purge.objects.get()
    assert (purge.subjects, purge.programmes) == (1, {"p-one": 1})
    assert purge.ended_at is not None
    again = run("--apply", "--as-of", f"{DAY + timedelta(days=LONG + 1)}")
    assert "purged 0 people" in again


def test_the_audit_says_that_it_happened_and_not_of_whom(here: World) -> None:
    over(here, "gone")
    first = AuditEntry.objects.order_by("-id").values_list("id", flat=True)[0]
    purge = purge_begin(as_of=DAY + timedelta(days=LONG + 1))
    assert purge_batch(purge=purge)[0] == 1
    entries = AuditEntry.objects.filter(id__gt=first)
    assert {entry.noun for entry in entries} == {"subject", "request", "purge"}
    text = str(list(entries.values()))
    for value in ("Ilmi", "Tavoren", "555", "example"):
        assert value not in text


def test_a_day_to_come_is_refused_for_real_data(here: World) -> None:
    tomorrow = datetime.now(UTC).date() + timedelta(days=2)
    with pytest.raises(CommandError, match="in the future"):
        run("--apply", "--as-of", f"{tomorrow}")


def test_a_request_that_comes_in_between_keeps_the_person(here: World) -> None:
    """Two are due; one gets a request after the purge began and before their batch."""
    over(here, "a")
    over(here, "b")
    purge = purge_begin(as_of=DAY + timedelta(days=LONG + 1))
    taken, last = purge_batch(purge=purge, most=1)
    assert (taken, last) == (1, Subject.objects.get(reference="s-a").pk)
    here.request("again", subject=Subject.objects.get(reference="s-b"))
    assert purge_batch(purge=purge, after=last or 0) == (0, None)
    assert Subject.objects.get(reference="s-b").family_name == "Tavoren"


def test_somebody_without_a_request_is_named_and_kept(here: World) -> None:
    person("alone")
    later = DAY + timedelta(days=5000)
    assert due(later) == []
    assert subjects_held(today=later).without == 1


def many(here: World, count: int) -> None:
    """Closed requests with people, by the bulk path."""
    people = [Subject(reference=f"m-{n}", family_name="Tavoren", phone="1") for n in range(count)]
    for each in people:
        each.set_keys()
    terms = here.programme.versions.get()
    made = Request.objects.bulk_create(
        Request(
            reference=f"m-{n}",
            subject=each,
            terms=terms,
            profile=here.profile,
            received=date(2020, 1, 1),
            release=date(2020, 1, 1),
            due=date(2020, 2, 1),
            closed_at=datetime(2020, 2, 1, tzinfo=UTC),
            closed_why="withdrawn",
        )
        for n, each in enumerate(Subject.objects.bulk_create(people))
    )
    RequestSite.objects.bulk_create(RequestSite(request=row, site=here.site) for row in made)


@pytest.mark.django_db(transaction=True)
def test_a_run_that_was_killed_goes_on_and_is_one_purge(here: World, settings: Any) -> None:
    """Killed with SIGKILL after its first batch; the next run does the rest and counts once."""
    many(here, 60)
    env = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "tests.settings",
        "DATABASE_URL": address(settings.DATABASES["default"]),
    }
    words = [sys.executable, "manage.py", "purge_personal_data", "--apply", "--batch", "1"]
    with subprocess.Popen(words, cwd=ROOT, env=env, stderr=subprocess.PIPE, text=True) as first:
        assert first.stderr is not None
        assert first.stderr.readline().strip() == "1 people"
        first.send_signal(signal.SIGKILL)
        first.wait(timeout=60)
    cut = Purge.objects.get()
    left = Subject.objects.exclude(family_name_key="").count()
    assert cut.ended_at is None
    assert 0 < left < 60
    assert cut.subjects == 60 - left
    said = run("--apply")
    assert "purged 60 people (p-one 60)" in said
    done = Purge.objects.get()
    assert (done.pk, done.subjects) == (cut.pk, 60)
    assert done.ended_at is not None


def address(database: dict[str, Any]) -> str:
    """The database of the tests, for another process."""
    if "sqlite" in database["ENGINE"]:
        return f"sqlite:///{database['NAME']}"
    server = f"{database['HOST'] or '127.0.0.1'}:{database['PORT'] or 5432}"
    secret = f":{database['PASSWORD']}" if database["PASSWORD"] else ""
    return f"postgres://{database['USER']}{secret}@{server}/{database['NAME']}"
