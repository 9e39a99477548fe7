"""Holding and releasing by the API: what waits for a time, and nothing else."""

from __future__ import annotations

from sites.models import Hold, Site
from tests.api.calls import Caller, problem
from tests.sites.build import World

WHY = {"why": "is away", "until": "2026-03-20"}


def test_a_held_request_says_so_and_why(desk: Caller) -> None:
    done = desk.change("requests/free/hold/", WHY)
    assert (done.status_code, done.json()["standing"]) == (200, "on_hold")
    told = desk.get("requests/free/timeline/").json()["happenings"]
    assert [each["detail"] for each in told if each["what"] == "put on hold"] == [
        "is away; until Fri 20 Mar 2026"
    ]
    done = desk.change("requests/free/release/")
    assert (done.status_code, done.json()["standing"]) == (200, "to_book")


def test_what_is_booked_cannot_be_held_nor_what_is_not_held_released(desk: Caller) -> None:
    said = problem(desk.change("requests/booked/hold/", WHY), 409, "step_refused")
    assert "Booked" in said["detail"]
    problem(desk.change("requests/free/release/"), 409, "step_refused")
    past = {"why": "is away", "until": "2026-03-02"}
    problem(desk.change("requests/free/hold/", past), 422, "bad_value")
    assert Hold.objects.count() == 1


def test_many_are_held_and_the_others_named(desk: Caller) -> None:
    done = desk.post("holds/", {"requests": ["late", "free", "booked", "free"], "why": "is away"})
    assert done.json()["done"] == ["free", "late"]
    assert [each["request"] for each in done.json()["skipped"]] == ["booked"]
    done = desk.post("holds/release/", {"requests": ["held", "free", "gone"]})
    assert done.json()["done"] == ["free", "held"]
    assert Hold.objects.filter(released_at=None).count() == 1


def test_an_unknown_request_among_many_holds_nobody(desk: Caller) -> None:
    said = problem(desk.post("holds/", {"requests": ["free", "x"], "why": "?"}), 400, "invalid")
    assert said["errors"][0]["pointer"] == "#/requests"
    assert Hold.objects.count() == 1


def test_many_are_given_another_site_within_the_view(desk: Caller, here: World) -> None:
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    asked = {"requests": ["free", "booked"], "how": "only", "sites": ["site-2"]}
    said = problem(desk.post("request-sites/", asked), 400, "invalid")
    assert said["errors"][0]["pointer"] == "#/sites"
    here.desk.covers.add(other)
    done = desk.post("request-sites/", asked).json()
    assert done["done"] == ["free"]
    assert [each["request"] for each in done["skipped"]] == ["booked"]
    assert "booked at Site 1" in done["skipped"][0]["why"]
    assert desk.get("requests/free/").json()["sites"] == ["site-2"]
