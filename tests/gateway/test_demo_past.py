"""The demo's record: whole, the same for a seed, and with what was asked of it.

Shares are compared with what the demo promises, within four standard errors.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from math import sqrt

import pytest
from django.contrib.auth import authenticate
from django.contrib.auth.hashers import make_password
from django.db import connection, transaction
from django.db.models import Avg, Count, F, Min, Q, QuerySet
from django.http import HttpRequest
from pytest_django.plugin import DjangoDbBlocker
from scipy.stats import chi2_contingency

from planner.engine.errors import FileRefused
from planner.gateway.demo import story
from planner.gateway.demo.build import empty, logins
from planner.gateway.demo.house import DRIFTING_SCANNER
from planner.gateway.demo.load import load, refuse_foreign
from planner.gateway.demo.past import make_past
from planner.gateway.demo.story import TODAY
from planner.gateway.demo.tables import Tables
from sites.check.all import CHECKS
from sites.models import (
    Appointment,
    AppointmentEvent,
    Attempt,
    Request,
    Response,
    ResponseKind,
    Role,
    Session,
    Site,
    Step,
    Subject,
    Submission,
    User,
)
from sites.models.codes import ImpressionType
from sites.occupancy.keep import triggers_missing
from sites.selectors.standing import Standing, requests_standing
from tests.sites.build import world

POOR = Q(session__appointment__station__site__code__in=["branavask", "morithwold"])


@pytest.fixture(scope="module")
def tables() -> Tables:
    return make_past(TODAY, 1, make_password("a word"))


@pytest.fixture(scope="module")
def record(
    tables: Tables, django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[Tables]:
    with django_db_blocker.unblock(), transaction.atomic():
        load(tables)
        yield tables
        transaction.set_rollback(True)


def near(count: int, of: int, asked: float) -> bool:
    """Whether a share is within four standard errors of what was asked."""
    assert of > 50
    return abs(count / of - asked) <= 4 * sqrt(asked * (1 - asked) / of)


def before(days: int) -> object:
    return TODAY - timedelta(days=days)


@pytest.mark.parametrize("check", CHECKS)
def test_the_past_is_whole(record: Tables, check: str) -> None:
    assert [str(found) for found in CHECKS[check]()] == []


def test_every_constraint_holds_and_every_row_is_there(record: Tables) -> None:
    connection.check_constraints()
    for model, rows in record.rows.items():
        assert model._default_manager.count() == len(rows), model.__name__
    assert Session.objects.count() > 20_000


def test_the_same_seed_gives_the_same_record_and_another_another(tables: Tables) -> None:
    password = tables.rows[User][0]["password"]
    assert make_past(TODAY, 1, password).rows == tables.rows
    assert make_past(TODAY, 2, password).rows != tables.rows


def test_nothing_has_happened_yet_that_lies_ahead(record: Tables) -> None:
    for query, moment in (
        (AppointmentEvent.objects.all(), "at"),
        (Session.objects.all(), "ended_at"),
        (Submission.objects.all(), "sent_at"),
        (Response.objects.all(), "received_at"),
        (Response.objects.all(), "read_at"),
        (Response.objects.all(), "contacted_at"),
    ):
        assert not query.filter(**{f"{moment}__date__gt": TODAY}).exists(), moment
    assert not Appointment.objects.filter(day__lt=TODAY, step=Step.BOOKED).exists()


def test_every_list_of_work_has_something_in_it(record: Tables) -> None:
    rows = (
        requests_standing(today=TODAY, requests=Request.objects.all())
        .values_list("standing")
        .annotate(many=Count("pk"))
    )
    many = dict(rows)
    for standing in (
        *(Standing.TO_BOOK, Standing.BOOKED, Standing.SENT, Standing.REWORK, Standing.CLOSED),
        *(Standing.RETURNED_UNREAD, Standing.RETURNED_IMAGE, Standing.RETURNED_DATA),
    ):
        assert many.get(standing, 0) > 0, standing
    assert many[Standing.TO_BOOK] > 1000


@pytest.mark.parametrize(
    ("rows", "asked"),
    [
        (Q(request__rework=False, returned_control_number="") & ~POOR, 0.03),  # press report, 2012
        (Q(request__rework=False, returned_control_number="") & POOR, 0.10),  # common practice
        (Q(request__rework=True), 0.20),  # 15 to 25 %: common practice, no source
    ],
)
def test_sets_come_back_for_their_images_as_often_as_asked(
    record: Tables, rows: Q, asked: float
) -> None:
    sent = Submission.objects.filter(rows, sent_at__date__lt=before(30))
    first = sent.annotate(earliest=Min("session__submissions__pk")).filter(pk=F("earliest"))
    assert not first.filter(response__isnull=True).exists()
    assert near(first.filter(response__kind=ResponseKind.IMAGE).count(), first.count(), asked)


def test_a_set_that_replaces_another_carries_its_number(record: Tables) -> None:
    first = Submission.objects.filter(request__rework=True).annotate(
        earliest=Min("session__submissions__pk")
    )
    assert first.filter(pk=F("earliest")).exclude(returned_control_number="").count() > 500
    assert not first.filter(pk=F("earliest"), returned_control_number="").exists()


@pytest.mark.parametrize(
    ("profile", "asked"), [("full_set", 0.08), ("worn_ridges", 0.06), ("plain_only", 0.10)]
)
def test_people_stay_away_as_often_as_their_profile_says(
    record: Tables, profile: str, asked: float
) -> None:
    """First visits only: an earlier no-show makes another likelier."""
    first = (
        Appointment.objects.filter(day__lt=TODAY, request__profile__code=profile)
        .annotate(earliest=Min("request__appointments__pk"))
        .filter(pk=F("earliest"))
        .exclude(step=Step.CANCELLED)
    )
    assert near(first.filter(step=Step.NO_SHOW).count(), first.count(), asked)


def rolled(**values: object) -> QuerySet[Attempt]:
    """First attempts at rolled impressions of usual sets."""
    return Attempt.objects.filter(
        impression=ImpressionType.LIVE_ROLLED,
        number=1,
        session__appointment__request__profile__code="full_set",
        **values,
    )


def test_captures_are_retaken_as_often_as_the_profile_says(record: Tables) -> None:
    """0.16 is the demo's chance for a rolled impression of a usual set; Fenlosted is usual."""
    rows = rolled(session__appointment__station__site__code="fenlosted")
    assert near(rows.exclude(cause="").count(), rows.count(), 0.16)


@pytest.mark.parametrize(("cause", "asked"), sorted(story.CAUSES.items()))
def test_retakes_have_the_causes_that_were_asked(record: Tables, cause: str, asked: float) -> None:
    retaken = Attempt.objects.filter(impression=ImpressionType.LIVE_ROLLED).exclude(cause="")
    sound = retaken.exclude(session__scanner__code=DRIFTING_SCANNER)
    assert near(sound.filter(cause=cause).count(), sound.count(), asked)


def two_proportions(one: tuple[int, int], other: tuple[int, int]) -> float:
    """The z of the pooled two-proportion test: its square is Pearson's chi-squared, by SciPy."""
    table = [[hit, of - hit] for hit, of in (one, other)]
    found = chi2_contingency(table, correction=False)
    more = one[0] / one[1] >= other[0] / other[1]
    return sqrt(found.statistic) * (1 if more else -1)


def share(rows: QuerySet[Attempt]) -> tuple[int, int]:
    return rows.exclude(cause="").count(), rows.count()


def between(first: int, last: int) -> dict[str, object]:
    """From ``first`` days before today until before ``last``."""
    return {
        "session__appointment__day__gte": before(first),
        "session__appointment__day__lt": before(last),
    }


def test_the_drift_of_a_scanner_shows_in_three_weeks_and_is_gone_after(record: Tables) -> None:
    scanner = {"session__scanner__code": DRIFTING_SCANNER}
    usual = share(rolled(**scanner, **between(91, 70)))
    drifted = share(rolled(**scanner, **between(70, 49)))
    after = share(rolled(**scanner, **between(49, 0)))
    assert two_proportions(drifted, usual) > 4
    assert abs(two_proportions(after, usual)) < 4


def test_the_newcomer_of_march_is_slower_and_retakes_more_at_first(record: Tables) -> None:
    who = {"session__appointment__technician__code": story.NEWCOMER.technician}
    beside = rolled(session__appointment__station__site__code="dulorpell", **between(98, 0))
    colleagues = share(beside.exclude(**who))
    assert two_proportions(share(rolled(**who, **between(98, 70))), colleagues) > 4
    assert abs(two_proportions(share(rolled(**who, **between(28, 0))), colleagues)) < 4
    mine = Session.objects.filter(
        appointment__technician__code=story.NEWCOMER.technician,
        appointment__request__profile__code="full_set",
        ended_how="complete",
    ).annotate(took=F("ended_at") - F("started_at"))
    early = mine.filter(appointment__day__lt=before(70)).aggregate(mean=Avg("took"))["mean"]
    late = mine.filter(appointment__day__gte=before(28)).aggregate(mean=Avg("took"))["mean"]
    assert early > 1.15 * late
    assert not mine.filter(appointment__day__lt="2027-03-01").exists()


def test_a_hiring_wave_came_last_autumn(record: Tables) -> None:
    """1.6 times as many in five weeks of October and November as in the twelve weeks after."""
    sites = Request.objects.filter(rework=False, subject__home_area__code="around-corithmouth")
    wave = sites.filter(received__gte="2026-10-05", received__lt="2026-11-09").count() / 5
    usual = sites.filter(received__gte="2026-11-09", received__lt="2027-02-01").count() / 12
    error = (wave / usual) * sqrt(1 / (5 * wave) + 1 / (12 * usual))
    assert abs(wave / usual - 1.6) < 4 * error


def test_contact_data_is_invented_for_all_to_see_and_sealed(record: Tables) -> None:
    """.invalid is reserved (RFC 2606); country code 999 is assigned to nobody (from memory)."""
    for subject in Subject.objects.all()[:2000]:
        assert subject.phone.startswith("+999 ")
        assert subject.email == "" or subject.email.endswith(".invalid")
        assert subject.given_name.isalpha()
    with connection.cursor() as cursor:
        cursor.execute("SELECT given_name, phone FROM record_subject WHERE id = 1")
        kept = " ".join(cursor.fetchone())
    subject = Subject.objects.get(pk=1)
    assert subject.given_name not in kept
    assert "999" not in kept.split()[1][:4]


def test_no_free_text_holds_a_number_that_could_be_an_identifier_or_a_birth_date(
    record: Tables,
) -> None:
    free = {"why", "note", "reason", "detail", "closed_why"}
    seen = 0
    for rows in record.rows.values():
        for row in rows:
            for name in free & row.keys():
                seen += bool(row[name])
                assert sum(sign.isdigit() for sign in row[name]) < 2, row[name]
    assert seen > 1000


@pytest.mark.django_db
def test_a_record_that_is_not_the_demos_is_left_alone() -> None:
    Site.objects.create(code="real", name="A real site", timezone="UTC")
    with pytest.raises(FileRefused, match="not the demo's"):
        refuse_foreign()
    assert Site.objects.count() == 1


def test_a_login_of_each_role_opens_and_no_other(record: Tables) -> None:
    opened = {name for name in User.objects.values_list("username", flat=True) if opens(name)}
    assert opened == {name for _, name in logins()}
    assert {*Role.values} <= opened
    assert User.objects.get(username="administrator").is_superuser


def opens(name: str) -> bool:
    return authenticate(HttpRequest(), username=name, password="a word") is not None  # noqa: S106


@pytest.mark.django_db(transaction=True)
def test_an_earlier_demo_is_taken_away_whole_and_the_triggers_are_back() -> None:
    here = world()
    here.programme.code = "invented-before"
    here.programme.save()
    here.book(here.request("one"))
    refuse_foreign()
    empty()
    assert not Site.objects.exists()
    assert triggers_missing(connection) == []
    with connection.cursor() as cursor:
        cursor.execute("SELECT count(*) FROM record_occupancy")
        assert cursor.fetchone() == (0,)
