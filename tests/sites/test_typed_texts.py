"""What is typed about a person goes with the name; every column of text is accounted for."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.apps import apps
from django.contrib.admin.models import LogEntry
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection, models

from sites.models import (
    ApiCall,
    Appointment,
    AppointmentEvent,
    AuditEntry,
    ExternalReference,
    Hold,
    Intake,
    Notice,
    Override,
    ProgrammeVersion,
    Purge,
    Request,
    Response,
    ResponseKind,
    Session,
    Subject,
)
from sites.selectors.retention import SEALED
from sites.selectors.typed import TYPED
from tests.sites.build import DAY, NOW, World
from tests.sites.test_retention import LONG, answered

PLANTED = "Planted Tavoren"
END = DAY + timedelta(days=LONG + 1)

GONE_WITH_THE_NAME = {
    *(f"Subject.{name}" for name in SEALED),
    *("Subject.family_name_key", "Subject.phone_key", "Subject.email_key"),
    *("Request.advice", "Request.closed_why", "Hold.why", "Appointment.why"),
    *("AppointmentEvent.why", "Session.note", "Override.reason", "Response.detail"),
    "Notice.detail",
}
GONE_WHERE_THE_TERMS_SAY_SO = {"Subject.reference", "ExternalReference.text"}
GONE_AFTER_A_DAY = {
    *("Intake.file_name", "Intake.head", "Intake.mapping", "IntakeBlock.cells"),
    *("IntakeBlock.keys", "IntakeFinding.problem", "IntakeFinding.remedy", "ApiCall.answer"),
}
"""Lists of candidates at the latest when the next purge runs, most when they are taken in."""
OURS = {
    *("ApiToken.code", "ApiToken.digest", "ApiCall.key", "ApiCall.body"),
    *("PlanRun.worker", "PlanRun.stage", "PlanRun.error", "PlanRun.network_digest"),
    *("PlanRun.plan_digest", "PlanRun.outcome", "PlanResult.network", "PlanResult.plan"),
    *("PlanRun.requests", "RunPart.network", "RunPart.plan", "RunPart.worker", "RunPart.stage"),
    *("Appointment.code", "AppointmentEvent.what", "CareWindow.code", "Intake.code"),
    *("Intake.kind", "Intake.read_as", "Intake.delimiter", "Intake.date_order", "Intake.said"),
    *("IntakeFinding.column", "LeftOut.code", "LeftOut.detail", "LeftOut.remedy", "Notice.fault"),
    *("SitePrice.further", "Purge.programmes", "Attempt.edition", "Restore.digest"),
    *("AuditEntry.actor", "AuditEntry.request", "AuditEntry.what", "AuditEntry.noun"),
    "AuditEntry.changes",  # of typed text that it changed, never what it was
}
"""Codes, hashes and words that the program writes, and none of a person among them."""
KEPT = {
    "an address, the plan's files and figures name the request by it": {"Request.reference"},
    "the number of a set that was sent on: links it to what came back": {
        *("Request.control_number", "Submission.control_number"),
        *("Submission.returned_control_number", "ExceptionRoute.first_number"),
        *("ExceptionRoute.second_number", "Response.code"),
    },
    "about a place, a device or a run, and asked for as such": {
        *("Site.code", "Site.name", "Site.timezone", "Site.directions", "Site.holiday_country"),
        *("Site.holiday_subdivision", "SpecialHours.reason", "Closure.reason", "HomeArea.code"),
        *("HomeArea.name", "Station.code", "Station.name", "Scanner.code", "Scanner.serial"),
        *("Downtime.reason", "CareWindow.note", "PlanRun.note", "Supply.kind"),
        *("Attempt.algorithm_version", "Threshold.algorithm_version"),
    },
    "the programme's own words and parameters": {
        *("Feature.code", "Feature.name", "Skill.code", "Skill.name", "Profile.code"),
        *("Profile.name", "Programme.code", "Programme.name", "Programme.bring"),
        *("Programme.contact", "Programme.reply_to", "NoticeText.language", "NoticeText.heading"),
        "NoticeText.body",
    },
    "of staff, not of subjects: the law on data about staff": {
        *("User.password", "User.username", "User.first_name", "User.last_name", "User.email"),
        *("ApiToken.name", "Technician.code", "Technician.name", "Certification.kind"),
        *("Certification.certificate", "Restore.account"),
    },
}
OTHERS = {
    "auth": "rights by role, named in no row of ours",
    "admin": "names of rows that an administrator changed: a subject's goes with its reference",
    "contenttypes": "names of tables",
    "sessions": "staff: signed, and over after a day",
    "axes": "staff: names that signed in with a wrong password",
    "django_tasks_database": "numbers of runs",
}
"""Applications of others, and what their texts are about."""


def texts() -> set[str]:
    """Columns of the record that could hold what somebody types, without words from a list."""
    kinds = (models.CharField, models.TextField, models.JSONField, models.BinaryField)
    return {
        f"{model.__name__}.{field.name}"
        for model in apps.get_app_config("record").get_models()
        for field in model._meta.concrete_fields
        if isinstance(field, kinds) and not field.choices
    }


def test_every_column_of_text_is_accounted_for() -> None:
    named = [GONE_WITH_THE_NAME, GONE_WHERE_THE_TERMS_SAY_SO, GONE_AFTER_A_DAY, OURS]
    named += KEPT.values()
    together: set[str] = set().union(*named)
    assert texts() == together
    assert sum(map(len, named)) == len(together), "a column is named twice"


def test_so_is_every_other_application() -> None:
    tables = {model._meta.app_label for model in apps.get_models()} - {"record"}
    assert tables == set(OTHERS)


def test_what_is_purged_is_what_is_named_here() -> None:
    of_person = {f"Subject.{name}" for name in SEALED}
    keys = {name for name in GONE_WITH_THE_NAME if name.endswith("_key")}
    assert {each.name for each in TYPED} == GONE_WITH_THE_NAME - of_person - keys


def plant(here: World, name: str, minute: int) -> Request:
    """A person whose request was answered, and a text in every column that takes one."""
    back = answered(here, name, minute, ResponseKind.ACCEPTED)
    request: Request = back.submission.request
    session = back.submission.session
    Response.objects.filter(pk=back.pk).update(detail=PLANTED)
    Session.objects.filter(pk=session.pk).update(note=PLANTED)
    Request.objects.filter(pk=request.pk).update(advice=PLANTED, closed_why=PLANTED)
    Appointment.objects.filter(request=request).update(why=PLANTED)
    AppointmentEvent.objects.filter(appointment__request=request).update(why=PLANTED)
    Notice.objects.filter(request=request).update(detail=PLANTED)
    Hold.objects.create(request=request, since=NOW, why=PLANTED, released_at=NOW)
    Override.objects.create(
        session=session, position=1, kind="quality", reason=PLANTED, at=NOW, by=here.taker
    )
    ExternalReference.objects.create(
        programme=here.programme, text=f"{PLANTED} {name}", request=request
    )
    return request


def holding(words: str) -> list[str]:
    """The tables that hold some words, in whichever column."""
    with connection.cursor() as cursor:
        found = []
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608
            if any(words in str(row) for row in cursor.fetchall()):
                found.append(table)
    return found


def run(*words: str) -> str:
    """What the command says."""
    said = StringIO()
    call_command("purge_personal_data", *words, stdout=said, stderr=StringIO())
    return said.getvalue()


@pytest.mark.django_db
def test_texts_go_with_the_name_and_those_of_others_stay(here: World, settings: Any) -> None:
    settings.DEMO = True
    gone = plant(here, "gone", 540)
    stays = plant(here, "stays", 600)
    here.request("open", subject=stays.subject)
    planted = sum(each.of([gone.subject_id]).count() for each in TYPED)
    assert planted >= len(TYPED)
    said = run("--as-of", f"{END}")
    assert f"with them go {planted} texts that were typed about them, and 0 references" in said
    assert "--apply purges 1 people" in said
    assert sum(each.of([gone.subject_id]).count() for each in TYPED) == planted
    said = run("--apply", "--as-of", f"{END}")
    assert f"{planted} texts about them and 0 references" in said
    assert all(not each.of([gone.subject_id]).exists() for each in TYPED)
    assert all(each.of([stays.subject_id]).exists() for each in TYPED)
    assert Hold.objects.get(request=gone).why == "taken away by the programme's rule"
    assert Purge.objects.get().texts == planted
    assert "purged 0 people" in run("--apply", "--as-of", f"{END}")
    assert ExternalReference.objects.count() == 2
    assert PLANTED not in str(list(AuditEntry.objects.values()))


@pytest.mark.django_db
def test_a_text_alone_makes_a_person_due(here: World, settings: Any) -> None:
    """Nobody's name is in the record, and still something was said of somebody."""
    settings.DEMO = True
    gone = plant(here, "gone", 540)
    Subject.objects.update(given_name="", family_name="", phone="", email="", language="")
    Subject.objects.update(needs_access=False, needs_longer=False)
    assert "purged 1 people" in run("--apply", "--as-of", f"{END}")
    assert holding(PLANTED) == ["record_externalreference"]  # which the terms keep
    assert not Response.objects.get(submission__request=gone).detail


@pytest.mark.django_db
def test_references_go_where_the_terms_say_so(here: World, settings: Any) -> None:
    """And where all requests of a person came under such terms, the person's own too."""
    settings.DEMO = True
    gone = plant(here, "gone", 540)
    ProgrammeVersion.objects.update(retention_references=True)
    kept = ProgrammeVersion.objects.create(
        programme=here.programme, starts_on=DAY + timedelta(days=1), retention_days=30
    )
    both = plant(here, "both", 600)
    other = here.request("other", subject=both.subject)
    Request.objects.filter(pk=other.pk).update(terms=kept, closed_at=NOW, closed_why="withdrawn")
    LogEntry.objects.create(
        user=here.desk,
        content_type=ContentType.objects.get_for_model(Subject),
        object_id=f"{gone.subject_id}",
        object_repr="s-gone",
        action_flag=2,
    )
    assert "2 people to purge" in run("--as-of", f"{END}")
    assert "and 3 references of programmes" in run("--as-of", f"{END}")
    run("--apply", "--as-of", f"{END}")
    assert holding("s-gone") == []
    assert Subject.objects.get(pk=gone.subject_id).reference == f"purged-{gone.subject_id}"
    assert Subject.objects.get(pk=both.subject_id).reference == "s-both"
    assert not ExternalReference.objects.exists()
    assert Purge.objects.get().references == 3
    assert "purged 0 people" in run("--apply", "--as-of", f"{END}")


@pytest.mark.django_db
def test_lists_and_answers_older_than_a_day_are_counted_and_go(here: World) -> None:
    old = {"by": here.desk, "given_at": NOW, "file_name": PLANTED, "kind": "csv", "read_as": "x"}
    Intake.objects.create(code="i", head=f'["{PLANTED}"]', mapping=[PLANTED], rows=1, **old)
    ApiCall.objects.create(
        caller=here.desk, key="k", body="b", started_at=NOW, answered_at=NOW, answer=PLANTED
    )
    words = "kept for more than a day: 1 lists of candidates and 1 answers to programs"
    assert words in run()
    assert "forgot 1 answers" in run("--apply")
    left = Intake.objects.get()
    assert (left.step, left.file_name, left.head, left.mapping) == ("left", "", "[]", [])
    assert not ApiCall.objects.exists()
