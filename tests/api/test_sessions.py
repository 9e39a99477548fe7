"""A session by the API: from the start to its end, and what of it is shown to whom."""

from __future__ import annotations

from typing import Any

import pytest

from sites.models import Algorithm, Attempt, ProgrammeVersion, Role, Threshold
from tests.api.calls import Caller, problem
from tests.api.operations.row import booked
from tests.sites.build import World

THUMB: dict[str, Any] = {
    "position": 1,
    "impression": 1,
    "kept": True,
    "algorithm": "nfiq2",
    "algorithm_version": "2.3",
    "score": 61,
}


@pytest.fixture
def taker(here: World) -> Caller:
    """A technician."""
    return Caller(here.taker)


def of(here: World, name: str = "running") -> str:
    """The address of a request's appointment."""
    return f"appointments/{booked(name)(here, here.desk)['appointment']}/"


def test_a_session_from_arrival_to_a_complete_set(taker: Caller, here: World) -> None:
    """Each answer's ETag is the If-Match of the next call: nothing is read in between."""
    there = of(here, "arrived")
    done = taker.change(f"{there}start/", {})
    assert (done.status_code, done.json()["scanner"]) == (201, "sc-st-1"), done.content
    assert done["Location"] == f"/api/v1/{there}session/"
    tag = taker.get(f"{there}session/")["ETag"]
    steps: list[tuple[str, dict[str, Any] | None]] = [
        ("identity", None),
        ("attempts", THUMB | {"kept": False, "score": 12, "cause": "dry"}),
        ("attempts", THUMB),
        ("missing", {"position": 4, "code": "UP", "review_on": "2026-03-20"}),
        ("end", {"how": "complete"}),
    ]
    for step, body in steps:
        done = taker.post(f"{there}session/{step}/", body, if_match=tag)
        assert done.status_code == 200, (step, done.content)
        tag = done["ETag"]
    found = done.json()
    assert [(each["number"], each["kept"]) for each in found["attempts"]] == [(1, False), (2, True)]
    assert [(each["position"], each["code"]) for each in found["missing"]] == [(4, "UP")]
    assert found["ended_how"] == "complete"
    assert taker.get(there).json()["step"] == "held"
    problem(taker.post(f"{there}session/attempts/", THUMB, if_match=tag), 409, "step_refused")


def test_a_set_is_not_complete_without_the_check_nor_with_a_short_capture(
    taker: Caller, here: World
) -> None:
    """NFIQ 2 runs from 0 to 100 (ISO/IEC 29794-4, recalled); the threshold is the programme's."""
    Threshold.objects.create(
        terms=ProgrammeVersion.objects.get(),
        algorithm=Algorithm.NFIQ2,
        position=1,
        impression=1,
        score=40,
    )
    there = of(here)
    said = problem(taker.change(f"{there}session/end/", {"how": "complete"}), 409, "step_refused")
    assert "identity check" in said["detail"]
    assert taker.change(f"{there}session/identity/").status_code == 200
    problem(taker.change(f"{there}session/identity/"), 409, "changed_meanwhile")
    taker.change(f"{there}session/attempts/", THUMB | {"score": 39})
    said = problem(taker.change(f"{there}session/end/", {"how": "complete"}), 409, "step_refused")
    assert "override" in said["detail"]
    why = {"position": 1, "kind": "quality", "reason": "best of three tries"}
    assert taker.change(f"{there}session/overrides/", why).status_code == 200
    assert taker.change(f"{there}session/end/", {"how": "override"}).status_code == 200


def test_nobody_confirms_an_override_by_being_named(taker: Caller, here: World) -> None:
    ProgrammeVersion.objects.update(override_second_person=True)
    why = {"position": 1, "kind": "quality", "reason": "best of three tries"}
    said = problem(taker.change(f"{of(here)}session/overrides/", why), 409, "step_refused")
    assert "second person" in said["detail"]
    second = why | {"second": "coordinator"}
    problem(taker.change(f"{of(here)}session/overrides/", second), 400, "invalid")


WRONG: tuple[tuple[str, dict[str, Any], str], ...] = (
    ("attempts", THUMB | {"position": 18}, "#/position"),
    ("attempts", THUMB | {"position": "1"}, "#/position"),
    ("attempts", THUMB | {"score": 101}, "#/score"),
    ("attempts", THUMB | {"algorithm": "nfiq1", "score": 6}, "#/score"),
    ("attempts", {"position": 1, "impression": 1, "score": 3}, "#/score"),
    ("missing", {"position": 11, "code": "XX"}, "#/position"),
    ("missing", {"position": 4, "code": "UP"}, "#/review_on"),
    ("missing", {"position": 4, "code": "XX", "review_on": "2026-03-20"}, "#/review_on"),
    ("end", {"how": "tired"}, "#/how"),
)


def test_what_no_standard_knows_is_named_with_its_place(taker: Caller, here: World) -> None:
    for step, body, pointer in WRONG:
        found = problem(taker.change(f"{of(here)}session/{step}/", body), 400, "invalid")
        assert [each["pointer"] for each in found["errors"]] == [pointer], body
    assert not Attempt.objects.filter(session__appointment__request__reference="running").exists()


def test_tries_end_where_the_programme_says(taker: Caller, here: World) -> None:
    most = ProgrammeVersion.objects.get().attempts_per_capture
    answers = [
        taker.change(f"{of(here)}session/attempts/", THUMB).status_code for _ in range(most + 1)
    ]
    assert answers == [200] * most + [409]


def test_what_was_seen_of_the_hands_is_for_who_records_it(taker: Caller, here: World) -> None:
    taker.change(f"{of(here)}session/attempts/", THUMB)
    hands = ("attempts", "missing", "overrides", "note")
    for role in Role:
        found = Caller(here.users[role]).get(f"{of(here)}session/").json()
        shown = role in (Role.TECHNICIAN, Role.SITE_LEAD, Role.ADMINISTRATOR)
        assert [found[name] is not None for name in hands] == [shown] * 4, role
