"""The intake's pages: a file in three steps, its downloads, and one candidate by hand."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from sites.intake.files import read_table
from sites.intake.out import workbook
from sites.models import Intake, IntakeStep, Request, Role
from tests.sites.build import World
from tests.web.lived import LISTED

HTMX = {"HX-Request": "true"}


def given(client: Client, data: bytes, **choices: str) -> Any:
    """Give a file."""
    return client.post("/intake/", {"file": SimpleUploadedFile("list.csv", data), **choices})


def columns(one: Intake, **values: str) -> dict[str, str]:
    """The form of the columns as it stands, with these values different."""
    mapped = {f"column_{number}": key for number, key in enumerate(one.mapping)}
    return {"act": "columns", **mapped, "programme": "p-one", "profile": "full", **values}


def latest() -> Intake:
    """The file given last."""
    return Intake.objects.order_by("-pk")[0]


def test_a_file_goes_from_its_bytes_to_requests(desk: Client) -> None:
    answer = given(desk, b"Reference;Surname;Due\nN-1;Newone;2026-03-20\nN-2;Newtwo;3026\n")
    one = latest()
    assert answer["Location"] == f"/intake/{one.code}/"
    page = desk.get(answer["Location"])
    assert "Windows" not in page.text
    assert "UTF-8, separated by semicolons" in page.text
    assert "Newone" in page.text
    assert page["Cache-Control"].count("no-store") == 1
    assert Request.objects.filter(reference="N-1").count() == 0
    desk.post(f"/intake/{one.code}/", columns(one))
    seen = [desk.post(f"/intake/{one.code}/", {"act": "read"}, headers=HTMX) for _ in range(2)]
    assert "2 of 2 rows are read" in seen[0].text
    assert "1 request will be made" in seen[1].text
    assert "is no date" in seen[1].text
    assert "<html" not in seen[1].text
    desk.post(f"/intake/{one.code}/", {"act": "take", "whole": "good"})
    done = desk.post(f"/intake/{one.code}/", {"act": "read"}, headers=HTMX)
    assert "1 of 2 rows are taken in" in done.text
    assert Request.objects.filter(reference="N-1").count() == 1


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The submitted file is empty"),
        (b"%PDF-1.4", "is a PDF document: save the list as CSV or XLSX."),
        (b"reference\n", "no row below them: add a row for each candidate."),
    ],
)
def test_what_is_no_list_is_refused_beside_its_field(desk: Client, data: bytes, words: str) -> None:
    before = Intake.objects.count()
    answer = given(desk, data)
    assert answer.status_code == 200
    assert words in answer.text
    assert Intake.objects.count() == before


def test_the_order_of_dates_is_asked_and_not_guessed(desk: Client) -> None:
    given(desk, b"reference,due\nN-1,03/04/2026\nN-2,25/03/2026\n")
    one = latest()
    page = desk.get(f"/intake/{one.code}/")
    assert "2 dates can be read in two ways" in page.text
    assert "03/04/2026 is 2026-04-03; 0 of 2 dates would be faults" in page.text
    assert "03/04/2026 is 2026-03-04; 1 of 2 dates would be faults" in page.text
    assert not page.context["columns"]["order"].value()
    asked = desk.post(f"/intake/{one.code}/", columns(one))
    assert "it is not guessed" in asked.text
    assert latest().step == IntakeStep.COLUMNS
    desk.post(f"/intake/{one.code}/", columns(one, order="dmy"))
    assert latest().step == IntakeStep.CHECKING


def test_a_mapping_is_corrected_and_two_columns_for_one_are_refused(desk: Client) -> None:
    given(desk, b"number,due,note\nN-1,2026-03-20,x\n")
    one = latest()
    assert one.mapping == ["", "due", ""]
    none = desk.post(f"/intake/{one.code}/", columns(one))
    assert "reference is in no column" in none.text
    twice = desk.post(f"/intake/{one.code}/", columns(one, column_0="due"))
    assert "due is chosen for two columns" in twice.text
    desk.post(f"/intake/{one.code}/", columns(one, column_0="reference"))
    assert latest().mapping == ["reference", "due", ""]


def test_faults_stand_by_row_with_column_value_and_remedy(desk: Client) -> None:
    page = desk.get("/intake/list-1/")
    found = [(each.number, each.kind, each.column, each.value) for each in page.context["found"]]
    assert found == [
        (3, "fault", "Mobile", "not yet"),
        (4, "fault", "Due date", "soon"),
        (4, "fault", "Sites", "moon"),
        (5, "known", "Reference", "booked"),
        (6, "double", "Surname", "Listone"),
        (7, "note", "Mobile", ""),
    ]
    only = desk.get("/intake/list-1/?kind=double")
    assert [each.number for each in only.context["found"]] == [6]
    assert "is likely the person of row 2" in only.text


def test_doubles_are_asked_about_before_anything_is_taken_in(desk: Client) -> None:
    asked = desk.post("/intake/list-1/", {"act": "take", "whole": "good"})
    assert "Look at the likely doubles, then choose." in asked.text
    whole = desk.post("/intake/list-1/", {"act": "take", "whole": "whole", "alike": "no"})
    assert "2 of 6 rows have a fault" in whole.text
    assert Intake.objects.get().step == IntakeStep.CHECKED
    desk.post("/intake/list-1/", {"act": "take", "whole": "good", "alike": "no"})
    desk.post("/intake/list-1/", {"act": "read"})
    assert Intake.objects.get().taken == 2
    assert set(Request.objects.filter(reference__startswith="L-").values_list("reference")) == {
        ("L-1",), ("L-6",),
    }  # fmt: skip


def test_the_file_comes_back_with_a_problem_column_and_can_be_given_again(desk: Client) -> None:
    answer = desk.get("/intake/list-1/problems/")
    assert answer["Content-Disposition"].endswith('problems.csv"')
    data = b"".join(answer.streaming_content)  # type: ignore[attr-defined]
    rows = list(csv.reader(io.StringIO(data.decode("utf-8-sig")), delimiter=";"))
    assert rows[0] == [*LISTED.split("\n", 1)[0].split(";"), "problem"]
    assert [bool(row[-1]) for row in rows[1:]] == [False, True, True, True, True, False]
    assert rows[2][-1].startswith("Mobile is no phone number: write one number")
    assert rows[1][3] == "'+00 555 0101"  # no spreadsheet takes it for a formula
    given(desk, data)
    assert latest().mapping[-1] == ""
    desk.post(f"/intake/{latest().code}/", columns(latest()))
    for _ in range(2):
        desk.post(f"/intake/{latest().code}/", {"act": "read"})
    again = latest()
    assert (again.good, again.faulty, again.known, again.doubles) == (2, 2, 1, 1)


def test_a_workbook_comes_back_as_a_workbook(desk: Client) -> None:
    given(desk, workbook([("list", [["reference", "due"], ["N-1", "=1+1"]])]))
    one = latest()
    desk.post(f"/intake/{one.code}/", columns(one))
    for _ in range(2):
        desk.post(f"/intake/{one.code}/", {"act": "read"})
    answer = desk.get(f"/intake/{one.code}/problems/")
    found = read_table(answer.content)
    assert found.rows[0].cells[:2] == ("N-1", "=1+1")
    assert found.rows[0].cells[2] == "due is a formula: write the value itself"


def test_a_file_is_left_and_shows_nothing_more(desk: Client) -> None:
    desk.post("/intake/list-1/", {"act": "leave"})
    page = desk.get("/intake/list-1/")
    assert "Nothing was taken in" in page.text
    assert "Listone" not in page.text
    refused = desk.post("/intake/list-1/", {"act": "take", "whole": "good", "alike": "no"})
    assert "has gone on meanwhile" in refused.text


def test_a_colleague_sees_that_a_file_is_there_but_not_its_rows(
    desk: Client, here: World, client: Client
) -> None:
    client.force_login(here.users[Role.ADMINISTRATOR])
    listed = client.get("/intake/")
    assert "Waiting for a decision" in listed.text
    assert "/intake/list-1/" not in listed.text
    assert "list.csv" not in listed.text


def test_a_candidate_by_hand_is_read_as_a_row_is(desk: Client) -> None:
    values = {"reference": "N-1", "programme": "p-one", "profile": "full", "phone": "none"}
    answer = desk.post("/intake/one/", {**values, "received": "2026-03-02", "due": "2026-03-01"})
    assert "is no phone number" in answer.text
    assert "leaves no day between release and due date" in answer.text
    values |= {"phone": "+00 555 0188", "family_name": "Handmade", "sites": "site-1"}
    values |= {"needs": "access", "received": "2026-03-02"}
    answer = desk.post("/intake/one/", values)
    assert answer["Location"] == "/requests/N-1/"
    made = Request.objects.get(reference="N-1")
    assert [row.site.code for row in made.at_sites.all()] == ["site-1"]
    assert made.subject.needs_access
    again = desk.post("/intake/one/", values)
    assert "is in the record already" in again.text
    double = desk.post("/intake/one/", {**values, "reference": "N-2"})
    assert "Likely a double" in double.text
    assert not Request.objects.filter(reference="N-2").exists()
    desk.post("/intake/one/", {**values, "reference": "N-2", "own": "on"})
    assert Request.objects.filter(reference="N-2").exists()


@pytest.mark.parametrize(("role", "sites"), [("coordinator", ["site-1"]), ("administrator", [])])
def test_whoever_takes_somebody_in_sees_them_afterwards(
    client: Client, here: World, role: str, sites: list[str]
) -> None:
    """Without a site, any that one sees: without this a coordinator was led to a 404."""
    client.force_login(here.users[role])
    values = {"reference": "N-9", "programme": "p-one", "profile": "full", "due": "2026-03-20"}
    answer = client.post("/intake/one/", values, follow=True)
    assert answer.redirect_chain == [("/requests/N-9/", 302)]
    assert answer.status_code == 200
    made = Request.objects.get(reference="N-9")
    assert [row.site.code for row in made.at_sites.all()] == sites


def test_the_templates_are_files(desk: Client) -> None:
    text = desk.get("/intake/candidates.csv")
    assert b"reference,programme" in b"".join(text.streaming_content)  # type: ignore[attr-defined]
    book = desk.get("/intake/candidates.xlsx")
    assert book.content.startswith(b"PK")
    assert "attachment" in book["Content-Disposition"]
