"""A file of candidates from its bytes to requests: read in pieces, taken in whole, once, or not."""

from __future__ import annotations

import json
from datetime import date, timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection

from sites.errors import BadValue, ChangedMeanwhile
from sites.intake.files import read_table
from sites.models import (
    ExternalReference,
    Intake,
    IntakeBlock,
    IntakeFinding,
    IntakeStep,
    Request,
    Role,
    Site,
    Skill,
    Subject,
)
from sites.selectors.intakes import findings, with_values
from sites.services.candidates import candidates_take
from sites.services.holds import requests_hold, requests_release
from sites.services.intakes import (
    BLOCK,
    KEPT,
    intake_choose,
    intake_give,
    intake_leave,
    intake_read,
    intakes_forget,
)
from sites.services.taking import intake_decide, intake_take
from tests.sites.build import DAY, NOW, World

HEAD = "reference;family name;given name;phone;mail;due;sites;needs;can come;person reference\n"
ROWS = [
    "A 1;Tavoren;Ilmi;+00 555 0101;i@example.org;2026-03-20;site-1;access;2026-03-09 09:00-12:00;",
    "A-2;Varga;Bo;+00 555 0102;;2026-03-21;;longer | difficult;;P-1",
    "A-3;Varga;Bo;+00 555 0102;;2026-03-22;;;;P-1",
]


@pytest.fixture
def skilled(here: World) -> World:
    """The small world with a skill."""
    Skill.objects.create(code="difficult")
    return here


def given_(here: World, rows: list[str], head: str = HEAD) -> Intake:
    """A file that was given, its columns as matched."""
    table = read_table((head + "\n".join(rows)).encode(), delimiter=";")
    return intake_give(table=table, file_name="people of march.csv", by=here.desk, at=NOW)


def read(here: World, one: Intake, **choices: Any) -> Intake:
    """Confirm the columns and read all rows."""
    values = {"programme": here.programme, "profile": here.profile, **choices}
    one = intake_choose(intake=one, mapping=one.mapping, **values)
    while one.step == IntakeStep.CHECKING:
        one = intake_read(intake=one)
    return one


def taken(one: Intake, *, whole: bool = False, alike: bool = False) -> Intake:
    """Decide and write."""
    intake_decide(intake=one, whole=whole, alike=alike)
    return intake_take(intake=one, at=NOW)


def said(one: Intake) -> list[tuple[int, str, str]]:
    """Row, kind and column of everything that was found."""
    return [(each.number, each.kind, each.column) for each in one.findings.order_by("number")]


def test_a_file_becomes_requests_with_everything_that_it_says(skilled: World) -> None:
    one = taken(read(skilled, given_(skilled, ROWS)))
    assert (one.step, one.taken) == (IntakeStep.TAKEN, 3)
    first = Request.objects.get(reference="A-1")
    assert first.external.text == "A 1"
    assert (first.due, first.received, first.release) == (date(2026, 3, 20), DAY, DAY)
    assert [row.site for row in first.at_sites.all()] == [skilled.site]
    assert [word.code for word in first.features.all()] == ["accessible"]
    assert list(first.times.values_list("day", "minute", "minutes")) == [(DAY + WEEK, 540, 180)]
    person = first.subject
    assert (person.given_name, person.family_name, person.phone, person.email) == (
        "Ilmi", "Tavoren", "+00 555 0101", "i@example.org",
    )  # fmt: skip
    assert person.needs_access
    second = Request.objects.get(reference="A-2")
    assert second.subject == Request.objects.get(reference="A-3").subject
    assert (second.subject.reference, second.subject.needs_longer) == ("P-1", True)
    assert [word.code for word in second.skills.all()] == ["difficult"]
    named_none = [row.site for row in second.at_sites.all()]
    assert named_none == [skilled.site]  # all that a coordinator of one site covers


WEEK = timedelta(days=7)


def test_the_same_file_twice_creates_nothing_twice(here: World) -> None:
    taken(read(here, given_(here, ROWS[::2])))
    before = (Request.objects.count(), Subject.objects.count())
    again = read(here, given_(here, ROWS[::2]))
    assert (again.good, again.known, again.faulty) == (0, 2, 0)
    with pytest.raises(BadValue, match="no row to take in"):
        intake_decide(intake=again, whole=False, alike=False)
    assert (Request.objects.count(), Subject.objects.count()) == before


def test_two_copies_that_are_decided_on_at_once_create_nothing_twice(here: World) -> None:
    first, second = (read(here, given_(here, ROWS[:1])) for _ in range(2))
    for each in (first, second):
        intake_decide(intake=each, whole=False, alike=True)
    assert intake_take(intake=first, at=NOW).taken == 1
    late = intake_take(intake=second, at=NOW)
    assert (late.step, late.taken) == (IntakeStep.CHECKING, 0)
    assert "was taken in meanwhile" in late.said
    while late.step == IntakeStep.CHECKING:
        late = intake_read(intake=late)
    assert (late.step, late.known) == (IntakeStep.CHECKED, 1)
    assert Request.objects.count() == 1


def test_a_reference_of_another_programme_is_another_request(here: World) -> None:
    here.request("A-3")
    other = type(here.programme).objects.create(code="p-two", name="Two")
    other.versions.create(starts_on=date(2026, 1, 1))
    one = taken(read(here, given_(here, [ROWS[2]]), programme=other))
    assert one.taken == 1
    made = ExternalReference.objects.get(programme=other, text="A-3").request
    assert made.reference == "p-two-A-3"
    again = read(here, given_(here, [ROWS[2]]))
    assert again.known == 1


def test_all_rows_or_none_is_refused_where_a_row_has_a_fault(here: World) -> None:
    one = read(here, given_(here, [ROWS[0], "A-9;Low;;call;;;;;;"]))
    assert (one.good, one.faulty) == (1, 1)
    with pytest.raises(BadValue, match="1 of 2 rows"):
        intake_decide(intake=one, whole=True, alike=False)
    assert not Request.objects.exists()
    assert taken(one).taken == 1
    assert Request.objects.get().reference == "A-1"


def test_nothing_is_written_where_the_last_row_fails(here: World) -> None:
    """A site goes between the decision and the writing."""
    Site.objects.create(code="gone", name="Gone", timezone="UTC")
    here.desk.covers.set(Site.objects.all())
    one = read(here, given_(here, [ROWS[0], "A-9;Low;;;;2026-03-20;gone;;;"]))
    intake_decide(intake=one, whole=True, alike=True)
    Site.objects.get(code="gone").delete()
    one = intake_take(intake=one, at=NOW)
    assert (one.step, one.taken) == (IntakeStep.CHECKING, 0)
    assert "row 3" in one.said
    assert not Request.objects.exists()
    assert not Subject.objects.exists()
    while one.step == IntakeStep.CHECKING:
        one = intake_read(intake=one)
    assert (one.good, one.faulty) == (1, 1)


def test_candidates_are_written_all_or_none(here: World) -> None:
    one = read(here, given_(here, ROWS[::2]))
    intake_decide(intake=one, whole=True, alike=True)
    here.request("A-3")
    one = intake_take(intake=one, at=NOW)
    assert one.step == IntakeStep.CHECKING
    assert set(Request.objects.values_list("reference", flat=True)) == {"A-3"}


def test_every_fault_has_row_column_value_and_remedy(here: World) -> None:
    one = read(
        here, given_(here, ["A-9;Low;Ada;call me;;;moon;;;", "A-9;Hi;;;;;;;;", ";;;;;;;;;x"])
    )
    assert said(one) == [
        (2, "fault", "phone"),
        (2, "fault", "sites"),
        (3, "note", "phone"),
        (4, "fault", "reference"),
    ]
    found = with_values(intake=one, found=list(findings(intake=one, kinds=["fault"])))
    assert [(each.number, each.column, each.value) for each in found] == [
        (2, "phone", "call me"), (2, "sites", "moon"), (4, "reference", ""),
    ]  # fmt: skip
    assert all(each.problem and each.remedy for each in found)


def test_the_second_row_with_one_reference_is_a_fault(here: World) -> None:
    one = read(here, given_(here, [ROWS[0], ROWS[0], ROWS[2]]))
    assert (one.good, one.faulty) == (2, 1)
    [fault] = one.findings.filter(kind="fault")
    assert (fault.number, fault.problem) == (3, "is also the reference of row 2")


@pytest.mark.parametrize(
    ("other", "same"),
    [
        ("B-1;TAVÓREN;ilmi;0;;;;;;", False),  # another phone
        ("B-1;Tavoren;Ilmi;+005550101;;;;;;", True),
        ("B-1;tavóren;;;I@EXAMPLE.ORG;;;;;", True),
        ("B-1;Tavoren;Ada;+00 555 0101;;;;;;", False),  # a sister at the same phone
        ("B-1;Varga;Ilmi;+00 555 0101;;;;;;", False),
        ("B-1;;Ilmi;+00 555 0101;;;;;;", False),
        ("B-1;Tavoren;Ilmi;+00 555 0101;;;;;;P-7", False),  # the programme says who it is
    ],
)
def test_who_is_likely_a_double(here: World, other: str, same: bool) -> None:
    other = other.replace(";0;", ";+00 555 0199;")
    one = read(here, given_(here, [ROWS[0], other]))
    assert one.faulty == 0
    assert (one.doubles, one.good) == ((1, 1) if same else (0, 2))
    taken(one)
    Request.objects.exclude(reference="A-1").delete()
    second = read(here, given_(here, [other]))
    assert second.doubles == same
    words = list(second.findings.filter(kind="double").values_list("problem", flat=True))
    assert words == (["is likely the person of request A-1"] if same else [])


def test_a_request_of_a_site_that_one_does_not_see_is_not_named(here: World) -> None:
    taken(read(here, given_(here, ROWS[:1])))
    away = Site.objects.create(code="away", name="Away", timezone="UTC")
    here.desk.covers.set([away])
    one = read(here, given_(here, ["B-1;Tavoren;Ilmi;+005550101;;;;;;"]))
    [double] = one.findings.filter(kind="double")
    assert double.problem == "is likely the person of a request at a site that you do not see"
    one = read(here, given_(here, ["B-2;Low;;;;;site-1;;;"]))
    assert [each.problem for each in one.findings.filter(kind="fault")] == [
        "names a site that is not set up"
    ]


def test_a_request_of_last_year_is_no_double(here: World) -> None:
    taken(read(here, given_(here, ROWS[:1])))
    Request.objects.update(received=DAY - timedelta(days=365))
    assert read(here, given_(here, ["B-1;Tavoren;Ilmi;+005550101;;;;;;"])).doubles == 0


def test_doubles_are_taken_in_only_where_that_was_chosen(here: World) -> None:
    rows = [ROWS[0], "B-1;Tavoren;;+005550101;;;;;;"]
    assert taken(read(here, given_(here, rows))).taken == 1
    assert taken(read(here, given_(here, rows)), alike=True).taken == 1
    assert Request.objects.count() == 2


def test_names_and_contact_are_in_no_column_in_clear(here: World) -> None:
    """NIST SP 800-122: confidentiality of personal data at rest."""
    read(here, given_(here, [ROWS[0], "A-9;Lowfamily;;secretphone;;;;;;"]))
    with connection.cursor() as cursor:
        for table in ("intake", "intakeblock", "intakefinding"):
            cursor.execute(f"SELECT * FROM record_{table}")  # noqa: S608 - a name from above
            text = json.dumps(cursor.fetchall(), default=str).casefold()
            assert len(text) > 100
            for word in ("tavoren", "ilmi", "0101", "example.org", "people of march", "lowfamily"):
                assert word not in text
            assert "secretphone" not in text


def test_rows_are_deleted_once_they_are_taken_in_or_left(here: World) -> None:
    taken(read(here, given_(here, ROWS[:1])))
    intake_leave(intake=read(here, given_(here, ROWS[:1])), at=NOW)
    assert not IntakeBlock.objects.exists()
    assert not IntakeFinding.objects.exists()
    assert [each.file_name for each in Intake.objects.all()] == ["", ""]


def test_a_file_is_forgotten_after_a_day(here: World) -> None:
    one = read(here, given_(here, ROWS[:1]))
    assert intakes_forget(at=NOW + KEPT) == 0
    assert IntakeBlock.objects.exists()
    assert intakes_forget(at=NOW + KEPT + timedelta(seconds=1)) == 1
    assert not IntakeBlock.objects.exists()
    one.refresh_from_db()
    assert one.step == IntakeStep.LEFT
    with pytest.raises(ChangedMeanwhile):
        intake_decide(intake=one, whole=False, alike=False)


def test_purging_leaves_lists_that_nobody_came_back_to(here: World) -> None:
    read(here, given_(here, ROWS[:1]))
    out = StringIO()
    call_command("purge_personal_data", "--apply", stdout=out, stderr=StringIO())
    assert "left 1 lists of candidates" in out.getvalue()
    assert not IntakeBlock.objects.exists()


def test_many_rows_are_read_in_pieces_that_say_how_far_they_are(here: World) -> None:
    rows = [f"N-{n};F{n};;;;;;;;" for n in range(5 * BLOCK + 7)]
    one = given_(here, rows)
    one = intake_choose(
        intake=one, mapping=one.mapping, programme=here.programme, profile=here.profile
    )
    seen = []
    while one.step == IntakeStep.CHECKING:
        one = intake_read(intake=one)
        seen.append(one.checked)
    assert seen == [4 * BLOCK, 5 * BLOCK + 7, 5 * BLOCK + 7]
    assert taken(one).taken == Request.objects.count() == 5 * BLOCK + 7


def test_who_stops_while_taking_in_is_followed_by_somebody_after_the_lease(here: World) -> None:
    one = read(here, given_(here, ROWS[:1]))
    one = intake_decide(intake=one, whole=False, alike=False)
    Intake.objects.update(try_again=NOW + timedelta(minutes=5))
    assert intake_take(intake=one, at=NOW).step == IntakeStep.TAKING
    assert intake_take(intake=one, at=NOW + timedelta(minutes=6)).step == IntakeStep.TAKEN


@pytest.mark.parametrize(
    ("mapping", "words"),
    [
        (["reference", "reference"], "two columns"),
        (["", "family_name"], "is in no column"),
        (["reference"], "not those of this file"),
        (["reference", "shoe"], "not those of this file"),
    ],
)
def test_a_mapping_that_cannot_be_is_refused(here: World, mapping: list[str], words: str) -> None:
    one = given_(here, ["A-1;x"], "reference;family name\n")
    with pytest.raises(BadValue, match=words):
        intake_choose(intake=one, mapping=mapping)
    one.refresh_from_db()
    assert one.step == IntakeStep.COLUMNS


def test_columns_that_are_changed_are_read_anew(here: World) -> None:
    one = read(here, given_(here, ["Low;A-1"], "reference;family name\n"))
    assert one.good == 1
    one.mapping = ["family_name", "reference"]
    one = taken(read(here, one))
    assert Request.objects.get().subject.family_name == "Low"


def test_a_person_of_the_record_gets_the_request_and_keeps_name_and_contact(
    skilled: World,
) -> None:
    here = skilled
    Subject.objects.create(reference="P-1", family_name="Kept", phone="+00 1")
    one = read(here, given_(here, ROWS[1:]))
    assert [each.kind for each in one.findings.all()] == ["note", "note"]
    taken(one)
    assert [row.subject.family_name for row in Request.objects.all()] == ["Kept", "Kept"]


def test_holds_wait_and_end_and_skip_what_is_booked(here: World) -> None:
    waiting, booked = here.request("waiting"), here.request("booked")
    here.book(booked)
    outcome = requests_hold(requests=[waiting, booked], why="away", by=here.desk, at=NOW)
    assert [row.reference for row in outcome.done] == ["waiting"]
    assert [(row.reference, why) for row, why in outcome.skipped] == [
        ("booked", "stands at “Booked”")
    ]
    with pytest.raises(Exception, match="is on hold on 2026-03-02"):
        here.book(waiting, 660)
    again = requests_hold(requests=[waiting], why="away", by=here.desk, at=NOW)
    assert [why for _, why in again.skipped] == ["stands at “On hold”"]
    freed = requests_release(requests=[waiting, booked], by=here.desk, at=NOW)
    assert [row.reference for row in freed.done] == ["waiting"]
    assert [why for _, why in freed.skipped] == ["is not on hold"]
    here.book(waiting, 660)


def test_a_hold_with_a_day_ends_by_itself_and_can_be_set_again(here: World) -> None:
    waiting = here.request("waiting")
    until = DAY + timedelta(days=2)
    requests_hold(requests=[waiting], why="away", until=until, by=here.desk, at=NOW)
    later = NOW + timedelta(days=2)
    outcome = requests_hold(requests=[waiting], why="again", by=here.desk, at=later)
    assert len(outcome.done) == 1
    assert waiting.holds.count() == 2
    for why, day, words in (("", None, "is empty"), ("away", DAY, "is not ahead")):
        with pytest.raises(BadValue, match=words):
            requests_hold(requests=[waiting], why=why, until=day, by=here.desk, at=NOW)


def test_nothing_is_taken_in_of_no_candidates(here: World) -> None:
    assert candidates_take(candidates=[]) == []
    assert here.users[Role.COORDINATOR] == here.desk
