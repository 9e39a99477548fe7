"""Planning runs by the API: asked for as on the page, followed, laid out, decided on once."""

from __future__ import annotations

from typing import Any

import pytest

from planner.gateway.review.book import review
from sites.models import Appointment, PlanRun, Role, RunState, Site, User
from tests.api.calls import Caller, problem
from tests.sites.build import World
from tests.web.planned import ASIDE, FAILED, PLANNING, READY, STOPPED, WAITING

ASK = {"first_day": "2026-03-03", "days": 5, "seconds": 60}


def booked_by(run: int) -> set[str]:
    """References that a run gave an appointment."""
    rows = Appointment.objects.filter(plan_run=run)
    return set(rows.values_list("request__reference", flat=True))


def test_a_run_is_asked_for_as_on_the_page(desk: Caller, here: World) -> None:
    done = desk.post("runs/", ASK | {"which": "listed", "requests": ["late", "free", "late"]})
    assert done.status_code == 201, done.content
    run = PlanRun.objects.get(pk=done.json()["number"])
    assert done["Location"] == f"/api/v1/runs/{run.pk}/"
    assert (run.state, run.requests, run.seconds, run.by) == (
        RunState.WAITING,
        ["free", "late"],
        60.0,
        here.desk,
    )
    assert done.json()["asked"] == 2
    assert done.json()["sites"] == ["site-1"]  # what a coordinator covers, though none was named
    all_of_it = Caller(here.users[Role.MANAGER]).post("runs/", ASK)
    assert (all_of_it.json()["sites"], all_of_it.json()["asked"]) == ([], None)


WRONG: tuple[tuple[dict[str, Any], str], ...] = (
    ({"first_day": "2026-03-01"}, "#/first_day"),
    ({"days": 43}, "#/days"),
    ({"seconds": 0}, "#/seconds"),
    ({"seconds": "60"}, "#/seconds"),
    ({"which": "some"}, "#/which"),
    ({"which": "due"}, "#/due"),
    ({"due": "2026-03-09"}, "#/due"),
    ({"which": "due", "due": "2020-01-01"}, "#/which"),
    ({"which": "listed"}, "#/requests"),
    ({"which": "listed", "requests": []}, "#/requests"),
    ({"which": "listed", "requests": ["free", "nobody"]}, "#/requests"),
    ({"requests": ["free"]}, "#/requests"),
    ({"sites": ["moon"]}, "#/sites"),
    ({"effort": 3}, "#/effort"),
)


@pytest.mark.django_db
def test_what_cannot_be_planned_is_named_with_its_place(desk: Caller) -> None:
    before = PlanRun.objects.count()
    for changes, pointer in WRONG:
        found = problem(desk.post("runs/", ASK | changes), 400, "invalid")
        assert [each["pointer"] for each in found["errors"]] == [pointer], changes
    assert PlanRun.objects.count() == before


def test_who_covers_no_site_plans_nothing(here: World) -> None:
    nowhere = User.objects.create(username="nowhere", role=Role.COORDINATOR)
    found = problem(Caller(nowhere).post("runs/", ASK), 400, "invalid")
    assert "no site in your view" in found["detail"]


def test_a_run_that_plans_tells_how_far_it_is(desk: Caller) -> None:
    found = desk.get(f"runs/{PLANNING}/").json()
    told = {name: found[name] for name in ("state", "stage", "cost", "bound", "gap", "booked")}
    assert told == {
        "state": "planning",
        "stage": "improve",
        "cost": 1234.5,
        "bound": 1200.0,
        "gap": 0.02875,
        "booked": 7,
    }
    for part in ("plan", "lines", "meanwhile"):
        problem(desk.get(f"runs/{PLANNING}/{part}/"), 409, "not_ready")
        problem(desk.get(f"runs/{FAILED}/{part}/"), 409, "not_ready")
    states = {each["number"]: each["state"] for each in desk.get("runs/").json()["results"]}
    assert states[READY] == "ready"
    assert states[ASIDE] == "put_aside"
    assert desk.get("runs/?state=failed").json()["results"][0]["error"].startswith("care clean-9")


def test_a_run_is_ended_whatever_its_figures_are_by_then(desk: Caller) -> None:
    done = desk.post(f"runs/{WAITING}/cancel/", if_match="*")
    assert done.json()["state"] == "stopped"
    done = desk.post(f"runs/{PLANNING}/cancel/", if_match="*")
    assert (done.json()["state"], bool(done.json()["cancel_asked_at"])) == ("planning", True)
    assert desk.post(f"runs/{STOPPED}/cancel/", if_match="*").json()["state"] == "stopped"
    problem(desk.post(f"runs/{WAITING}/cancel/"), 428, "no_precondition")


def lines_of(desk: Caller, query: str = "limit=2") -> list[dict[str, Any]]:
    """All lines of the run that is ready, page by page."""
    found: list[dict[str, Any]] = []
    path = f"runs/{READY}/lines/?{query}"
    while path:
        page = desk.get(path).json()
        found += page["results"]
        path = (page["next"] or "").removeprefix("/api/v1/")
    return found


def test_lines_come_page_by_page_and_narrowed(desk: Caller) -> None:
    whole = review(PlanRun.objects.get(pk=READY))
    lines = lines_of(desk)
    assert [each["request"] for each in lines] == [line.request for line in whole.lines]
    new = lines_of(desk, "kind=new&limit=1")
    assert [each["request"] for each in new] == [e["request"] for e in lines if e["kind"] == "new"]
    assert {each["now"]["site"] for each in new} == {"site-1"}
    day = new[0]["now"]["day"]
    assert all(day in (e["now"]["day"], (e["was"] or {}).get("day")) for e in lines_of(
        desk, f"day={day}&site=site-1"))  # fmt: skip
    assert lines_of(desk, "site=moon") == []
    cursor = desk.get(f"runs/{READY}/lines/?limit=1").json()["next"].split("cursor=")[1]
    for query in (f"kind=new&cursor={cursor}", f"cursor={cursor}x", "order=luck", "kind=old"):
        problem(desk.get(f"runs/{READY}/lines/?{query}"), 400, "invalid")
    problem(desk.get(f"runs/{ASIDE}/lines/?cursor={cursor}"), 400, "invalid")


def test_the_plan_is_put_beside_what_is_booked_and_an_earlier_run(desk: Caller) -> None:
    found = desk.get(f"runs/{READY}/plan/?beside={ASIDE}").json()
    counts = found["counts"]
    assert sum(counts.values()) == found["figures"]["requests"] == len(lines_of(desk))
    assert found["figures"]["booked"] == counts["new"] + counts["moved"] + counts["stands"]
    assert found["in_force"]["booked"] <= found["figures"]["booked"]
    assert found["figures"]["cost"] >= found["figures"]["bound"]
    assert sum(each["booked"] for each in found["load"]) == found["figures"]["booked"]
    assert sum(each["planned"] for each in found["load"]) == found["figures"]["minutes"]
    beside = found["beside"]
    assert beside["run"] == ASIDE
    assert beside["difference"]["same"] == beside["figures"]["booked"]  # the same record, planned
    problem(desk.get(f"runs/{READY}/plan/?beside={WAITING}"), 409, "not_ready")
    problem(desk.get(f"runs/{READY}/plan/?beside=99"), 404, "not_found")


def test_accepting_all_books_everybody_once(desk: Caller) -> None:
    would = desk.get(f"runs/{READY}/meanwhile/").json()
    new = {each["request"] for each in lines_of(desk, "kind=new")}
    tag = desk.get(f"runs/{READY}/")["ETag"]
    done = desk.post(f"runs/{READY}/accept/", {}, if_match=tag, idempotency_key="a-1")
    assert (done.status_code, done.json()["state"]) == (200, "kept"), done.content
    assert booked_by(READY) == new
    assert done.json()["outcome"] == would["would"]
    again = desk.post(f"runs/{READY}/accept/", {}, if_match=tag, idempotency_key="a-1")
    assert again.content == done.content
    problem(desk.post(f"runs/{READY}/accept/", {}, if_match=tag), 412, "changed")
    problem(desk.post(f"runs/{READY}/accept/", {}, if_match="*"), 409, "not_ready")
    told = desk.get(f"runs/{READY}/meanwhile/").json()
    assert (told["accepted"], told["would"]) == (True, would["would"])


def test_some_are_accepted_and_the_others_stay_as_they_are(desk: Caller) -> None:
    new = sorted(each["request"] for each in lines_of(desk, "kind=new"))
    path = f"runs/{READY}/accept/"
    wrong: tuple[dict[str, list[str]], ...] = (
        {"requests": ["booked"]},
        {"without": ["nobody"]},
        {"requests": []},
    )
    for body in wrong:
        problem(desk.post(path, body, if_match="*"), 400, "invalid")
    both = {"requests": new[:1], "without": new[1:]}
    problem(desk.post(path, both, if_match="*"), 400, "invalid")
    assert desk.change(path, {"requests": new[:1]}).status_code == 200
    assert booked_by(READY) == set(new[:1])


def test_what_changed_meanwhile_is_named_and_never_overwritten(desk: Caller, here: World) -> None:
    new = sorted(each["request"] for each in lines_of(desk, "kind=new"))
    assert "free" in new
    assert desk.change("requests/free/close/", {"why": "withdrawn"}).status_code == 200
    told = desk.get(f"runs/{READY}/meanwhile/").json()
    assert [each["request"] for each in told["changed"]] == ["free"]
    assert told["changed"][0]["problem"]
    assert desk.change(f"runs/{READY}/accept/", {}).json()["state"] == "kept"
    assert booked_by(READY) == set(new) - {"free"}
    assert desk.get(f"runs/{READY}/meanwhile/").json()["changed"] == told["changed"]


def test_a_plan_put_aside_books_nothing_and_stays_readable(desk: Caller) -> None:
    assert desk.change(f"runs/{READY}/put-aside/").json()["state"] == "put_aside"
    assert booked_by(READY) == set()
    assert lines_of(desk)
    problem(desk.post(f"runs/{READY}/put-aside/", if_match="*"), 409, "not_ready")


def test_a_run_over_other_sites_too_is_for_who_covers_them_all(desk: Caller) -> None:
    there = Site.objects.create(code="site-9", name="Site 9", timezone="Europe/Vienna")
    PlanRun.objects.get(pk=READY).sites.add(there)
    for path in ("", "plan/", "lines/", "meanwhile/"):
        problem(desk.get(f"runs/{READY}/{path}"), 404, "not_found")
    problem(desk.post(f"runs/{READY}/accept/", {}, if_match="*"), 404, "not_found")
