"""The queue of returns by calls: by step and age, many at once, rework, exceptions."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from django.db.models import QuerySet

from sites.models import Notice, NoticeKind, Request, Response, ResponseKind, Submission
from sites.selectors.returns import AGES, age_of, band_of, returns_aged
from sites.services.submissions import response_receive
from tests.api.calls import Caller, problem
from tests.sites.build import World
from tests.web.lived import NOW, submitted


def steps(desk: Caller, query: str = "") -> dict[str, str]:
    """What is next of each return in the queue, by request."""
    rows = desk.get(f"returns/{query}").json()["results"]
    return {each["request"]: each["step"] for each in rows}


def number(name: str) -> int:
    """The number of the response to a request's set."""
    return Response.objects.get(submission__request__reference=name).pk


def test_the_queue_says_what_is_next_and_since_when(desk: Caller) -> None:
    """By hand: 4 days before Monday 2 March is a Thursday, 2 working days ago; 3 is a Friday."""
    assert steps(desk) == {
        "back-unread": "read",
        "back-told": "ask",
        "back-read": "contact",
        "back-data": "fix",
    }
    assert steps(desk, "?step=fix") == {"back-data": "fix"}
    assert set(steps(desk, "?age=2-5")) == {"back-unread", "back-told"}
    assert steps(desk, "?age=over%2010") == {}
    ages = {each["request"]: each["age"] for each in desk.get("returns/").json()["results"]}
    assert ages == {"back-unread": 2, "back-told": 2, "back-read": 1, "back-data": 1}
    table = {each["step"]: each for each in desk.get("returns/ages/").json()["steps"]}
    assert table["ask"]["ages"][1] == {"age": "2-5", "count": 1}
    assert [table[step]["count"] for step in ("read", "contact", "ask", "fix", "send")] == [
        1, 1, 1, 1, 0
    ]  # fmt: skip


def test_bands_of_age_are_the_same_in_the_database(here: World) -> None:
    """Every band over four weeks, from each day of a week, beside the count of working days."""
    sent = Submission.objects.get(control_number="c-sent")
    Submission.objects.filter(pk=sent.pk).update(sent_at=NOW - timedelta(days=60))
    answer = response_receive(submission=sent, kind=ResponseKind.IMAGE, at=NOW)
    rows: QuerySet[Any] = Response.objects.filter(pk=answer.pk)
    for offset in range(0, 28, 3):
        at = datetime(2026, 2, 28, 23, 30, tzinfo=UTC) - timedelta(days=offset)
        rows.update(received_at=at)
        for weekday in range(7):
            today = date(2026, 3, 1) + timedelta(days=weekday)
            band = band_of(age_of(at, today))
            found = [
                key for key, _, _ in AGES if returns_aged(rows=rows, band=key, today=today).exists()
            ]
            assert found == [band], (at, today)


def test_many_are_read_at_once_and_their_subjects_told(desk: Caller) -> None:
    body = {"control_numbers": ["c-back-unread", "c-back-read"]}
    assert desk.post("returns/read/", body).json() == {"read": 1}
    told = Notice.objects.filter(request__reference="back-unread", kind=NoticeKind.RETURNED)
    assert told.count() == 1
    found = problem(
        desk.post("returns/read/", {"control_numbers": ["c-back-unread", "c-x"]}), 400, "invalid"
    )
    assert [each["pointer"] for each in found["errors"]] == ["#/control_numbers/1"]


def test_many_responses_are_looked_at_then_registered_all_or_none(
    desk: Caller, here: World
) -> None:
    submitted(here, "sent-too", 890)
    rows = [
        {"control_number": "c-sent", "kind": "accepted", "day": "2026-02-25"},
        {"control_number": "c-sent-too", "kind": "image", "day": "2026-02-26", "code": "L-1"},
    ]
    looked = desk.post("responses/import/", {"responses": rows, "look": True}).json()
    kinds = [{"kind": "accepted", "count": 1}, {"kind": "image", "count": 1}]
    assert looked == {"looked": True, "registered": 2, "known": 0, "kinds": kinds}
    assert not Response.objects.filter(submission__control_number="c-sent").exists()
    wrong = [*rows, {"control_number": "c-none", "kind": "data", "day": "2020-01-01"}]
    wrong[0] = {**rows[0], "day": "2026-03-03"}
    found = problem(desk.post("responses/import/", {"responses": wrong}), 400, "invalid")
    assert {each["pointer"] for each in found["errors"]} == {
        "#/responses/0/day",
        "#/responses/2/control_number",
    }
    assert not Response.objects.filter(submission__control_number="c-sent-too").exists()
    assert desk.post("responses/import/", {"responses": rows}).json()["registered"] == 2
    again = desk.post("responses/import/", {"responses": rows}).json()
    assert (again["registered"], again["known"]) == (0, 2)
    kept = desk.get(f"responses/{number('sent-too')}/").json()
    assert (kept["kind"], kept["code"]) == ("image", "L-1")


def test_rework_as_recommended_is_what_the_page_would_ask_for(desk: Caller, here: World) -> None:
    place = f"responses/{number('back-told')}/"
    advice = desk.get(f"{place}advice/").json()
    assert advice["reasons"]
    assert advice["sites"] == ["site-1"]
    done = desk.change(f"{place}rework/", {"as_recommended": True})
    assert done.status_code == 201, done.content
    made = done.json()
    assert made["reference"] == "back-told-2"
    assert made["rework_of"] == "back-told"
    assert [made[name] for name in ("profile", "release", "due")] == [
        advice[name] for name in ("profile", "release", "due")
    ]
    kept = Request.objects.get(reference="back-told-2")
    assert kept.advice == "\n".join(advice["reasons"])
    problem(desk.get(f"{place}advice/"), 404, "not_found")
    assert "back-told" not in steps(desk)


def test_rework_takes_what_people_say_and_nothing_beside_a_recommendation(desk: Caller) -> None:
    place = f"responses/{number('back-told')}/"
    both = {"as_recommended": True, "due": "2026-03-30"}
    found = problem(desk.change(f"{place}rework/", both), 400, "invalid")
    assert found["errors"][0]["pointer"] == "#/as_recommended"
    elsewhere = problem(desk.change(f"{place}rework/", {"sites": ["moon"]}), 400, "invalid")
    assert elsewhere["errors"][0]["pointer"] == "#/sites"
    body = {"release": "2026-03-10", "due": "2026-03-30", "advice": "hand care first"}
    made = desk.change(f"{place}rework/", body).json()
    assert (made["release"], made["due"]) == ("2026-03-10", "2026-03-30")


def test_who_is_reached_has_been_read_of(desk: Caller) -> None:
    done = desk.change(f"responses/{number('back-unread')}/contacted/").json()
    assert done["read_at"]
    assert done["contacted_at"]


def test_a_set_sent_again_carries_the_returned_number_once(desk: Caller) -> None:
    """31 Miss. Code R. 1-10.20, as recalled in the service: the number is carried, once."""
    place = f"responses/{number('back-data')}/sent-again/"
    made = desk.change(place, {"control_number": "c-new"}).json()
    assert made["returned_control_number"] == "c-back-data"
    problem(desk.change(place, {"control_number": "c-newer"}), 409, "step_refused")
    image = f"responses/{number('back-read')}/sent-again/"
    problem(desk.change(image, {"control_number": "c-newer"}), 409, "step_refused")


def test_the_exception_route_has_both_numbers_and_is_asked_for_once(
    desk: Caller, here: World
) -> None:
    [route] = desk.get("exceptions/?open=true").json()["results"]
    assert (route["first_number"], route["second_number"]) == ("c-back-before", "c-back-read")
    assert route["closes_on"] == "2026-05-28"
    tag = desk.get("exceptions/back-read/")["ETag"]
    done = desk.post("exceptions/back-read/ask/", if_match=tag)
    assert done.json()["asked_by"] == here.desk.username
    problem(desk.post("exceptions/back-read/ask/", if_match=tag), 412, "changed")
    problem(desk.post("exceptions/back-read/ask/", if_match="*"), 409, "changed_meanwhile")
    assert desk.get("exceptions/?open=true").json()["results"] == []
    assert len(desk.get("exceptions/?open=false").json()["results"]) == 1
