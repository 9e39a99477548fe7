"""Lists of candidates by calls: from a file to requests, and one candidate by itself."""

from __future__ import annotations

from typing import Any

import pytest

from sites.models import Intake, IntakeBlock, Request, Subject
from tests.api.calls import Caller, problem
from tests.sites.build import World

FILE = b"""Reference;Surname;Mobile;Due date;Sites;Shoe
N-1;Newone;+00 555 0161;20/03/2026;site-1;42
N-2;Newtwo;not yet;21/03/2026;site-1;43
N-3;Newthree;+00 555 0163;22/03/2026;moon;44
N-4;Newone;+00 555 0161;23/03/2026;;45
"""
CANDIDATE = {
    "reference": "N/9",
    "programme": "p-one",
    "profile": "full",
    "family_name": "Newone",
    "phone": "+00 555 0161",
    "sites": ["site-1"],
}


def given(desk: Caller) -> str:
    """The address of a list that was given just now."""
    answer = desk.post("intakes/", {"file": FILE})
    assert answer.status_code == 201, answer.content
    return str(answer["Location"]).removeprefix("/api/v1/")


def read(desk: Caller, **choices: Any) -> str:
    """The address of a list whose rows were read."""
    path = given(desk)
    body = {"programme": "p-one", "profile": "full", "dates": "dmy", **choices}
    assert desk.change(f"{path}columns/", body).json()["step"] == "checking"
    for _ in range(9):
        if desk.change(f"{path}go-on/").json()["step"] == "checked":
            return path
    raise AssertionError("it is never checked")


def test_columns_are_matched_shown_and_corrected(desk: Caller) -> None:
    path = given(desk)
    assert desk.get(path).json()["columns"] == [
        "reference", "family_name", "phone", "due", "sites", ""
    ]  # fmt: skip
    answer = desk.get(f"{path}columns/")
    shown = answer.json()
    assert answer["Cache-Control"] == "no-store"
    assert shown["columns"][1] == {
        "head": "Surname",
        "holds": "family_name",
        "cells": ["Newone", "Newtwo", "Newthree", "Newone"],
    }
    # by hand: 20 to 23 are no months
    assert [each["faults"] for each in shown["dates"]["readings"]] == [0, 4]
    unsaid = {"programme": "p-one", "profile": "full"}
    found = problem(desk.change(f"{path}columns/", unsaid), 422, "bad_value")
    assert "not guessed" in found["detail"]
    twice = {**unsaid, "dates": "dmy", "columns": ["reference"] * 6}
    problem(desk.change(f"{path}columns/", twice), 422, "bad_value")
    right = {**twice, "columns": ["reference", "given_name", "phone", "due", "sites", ""]}
    done = desk.change(f"{path}columns/", right).json()
    assert (done["step"], done["columns"][1]) == ("checking", "given_name")


def test_faults_are_named_by_row_and_column_with_value_and_remedy(desk: Caller) -> None:
    path = read(desk)
    counts = desk.get(path).json()
    # by hand: N-2 has no phone number, N-3 no site that is, N-4 is likely the person of N-1
    assert [counts[name] for name in ("rows", "good", "faulty", "doubles")] == [4, 1, 2, 1]
    first = desk.get(f"{path}findings/?limit=1").json()
    assert first["next"]
    faults = desk.get(f"{path}findings/?kind=fault").json()["results"]
    assert [(each["row"], each["column"], each["value"]) for each in faults] == [
        (3, "Mobile", "not yet"),
        (4, "Sites", "moon"),
    ]
    assert all(each["problem"] and each["remedy"] for each in faults)
    file = desk.get(f"{path}problems/", accept="text/csv")
    assert file["Content-Type"].startswith("text/csv")
    lines = file.content.decode("utf-8-sig").splitlines()
    assert lines[0].endswith("problem")
    assert "names a site that is not set up" in lines[3]


def test_all_rows_or_none_and_the_good_rows(desk: Caller) -> None:
    path, before = read(desk), Request.objects.count()
    body = {"whole": True, "doubles": False}
    found = problem(desk.change(f"{path}take/", body), 422, "bad_value")
    assert "2 of 4 rows have a fault" in found["detail"]
    assert Request.objects.count() == before
    tag = desk.get(path)["ETag"]
    for _ in range(2):  # sent again: answered again, done once
        done = desk.post(
            f"{path}take/", {"whole": False, "doubles": True}, if_match=tag, idempotency_key="k"
        ).json()
        assert (done["step"], done["taken"]) == ("taken", 2)
    assert Request.objects.count() == before + 2
    assert not IntakeBlock.objects.filter(intake__code=done["code"]).exists()
    again = read(desk)
    assert desk.get(again).json()["known"] == 2


def test_a_list_that_is_put_aside_keeps_no_row(desk: Caller, here: World) -> None:
    path = given(desk)
    assert desk.change(f"{path}leave/").json()["step"] == "left"
    assert not IntakeBlock.objects.filter(intake__step="left").exists()
    problem(desk.change(f"{path}columns/", {"dates": "dmy"}), 409, "changed_meanwhile")
    other = Caller(here.users["administrator"])
    problem(other.get(path), 404, "not_found")


def test_a_file_under_a_key_is_kept_once(desk: Caller) -> None:
    first, second = (
        desk.post("intakes/", {"file": FILE}, idempotency_key="k").json() for _ in range(2)
    )
    assert first == second
    assert Intake.objects.filter(code=first["code"]).count() == 1
    other = desk.post("intakes/", {"file": FILE + b"N-5;x;;;;\n"}, idempotency_key="k")
    problem(other, 409, "key_reused")


@pytest.mark.parametrize(
    ("file", "words"), [(b"%PDF-1.7", "is a PDF document"), (b"Reference\n", "no row below")]
)
def test_a_file_that_is_none_is_refused_with_the_remedy(
    desk: Caller, file: bytes, words: str
) -> None:
    assert words in problem(desk.post("intakes/", {"file": file}), 422, "bad_value")["detail"]


def test_what_is_no_form_is_told_so(desk: Caller) -> None:
    """RFC 9110, section 15.5.16; RFC 7578, section 4.1: a form needs its boundary."""
    problem(desk.post("intakes/", {"file": "x"}), 415, "not_a_form_type")
    answer = desk.client.post(
        "/api/v1/intakes/", b"x", content_type="multipart/form-data", headers=desk.signed
    )
    problem(answer, 400, "not_a_form")
    found = problem(desk.post("intakes/", {"shoe": FILE}), 400, "invalid")
    assert {each["pointer"] for each in found["errors"]} == {"#/shoe"}


def test_the_template_is_read_again_as_a_list(desk: Caller) -> None:
    for kind in ("text/csv", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"):
        answer = desk.get("intakes/template/", accept=kind)
        assert answer["Content-Type"].startswith(kind)
        assert "attachment" in answer["Content-Disposition"]
        found = problem(desk.post("intakes/", {"file": answer.content}), 422, "bad_value")
        assert "column names and no row" in found["detail"]
    problem(desk.get("intakes/template/", accept="image/png"), 406, "not_acceptable")


def test_one_candidate_is_taken_in_with_every_fault_at_its_place(desk: Caller) -> None:
    wrong = {**CANDIDATE, "phone": "soon", "sites": ["moon"], "due": "2020-01-01"}
    found = problem(desk.post("candidates/", wrong), 400, "invalid")
    assert {each["pointer"] for each in found["errors"]} == {"#/phone", "#/sites", "#/due"}
    done = desk.post("candidates/", CANDIDATE)
    assert (done.status_code, done.json()) == (201, {"request": "N-9"})
    assert desk.get(done["Location"].removeprefix("/api/v1/")).status_code == 200
    found = problem(desk.post("candidates/", CANDIDATE), 400, "invalid")
    assert "in the record already" in found["errors"][0]["detail"]


def test_a_likely_double_is_taken_in_once_somebody_says_so(desk: Caller) -> None:
    desk.post("candidates/", CANDIDATE)
    people = Subject.objects.count()
    other = {**CANDIDATE, "reference": "N/10"}
    found = problem(desk.post("candidates/", other), 409, "likely_double")
    assert "request N-9" in found["detail"]
    assert Subject.objects.count() == people
    assert desk.post("candidates/", {**other, "own": True}).status_code == 201
