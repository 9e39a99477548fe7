"""The waiting list by the API: joined and left, and what is put to who waits is answered."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from sites.models import Appointment, Proposal, ProposalAnswer, Waiting, WaitingEnd
from tests.api.calls import Caller, problem
from tests.sites.build import DAY, World

WAIT = {"site": "site-1", "last_day": "2026-03-12", "part": "am", "hours_ahead": 4}


def waiting(desk: Caller, query: str = "") -> list[str]:
    """References on the list, in its order, page by page."""
    found: list[str] = []
    path = f"waiting/?limit=1{query}"
    while path:
        page = desk.get(path).json()
        found += [each["request"] for each in page["results"]]
        path = (page["next"] or "").removeprefix("/api/v1/")
    return found


def number() -> int:
    """The open proposal."""
    return Proposal.objects.get(answer="").pk


def test_who_waits_comes_by_slack_then_by_how_long(desk: Caller, here: World) -> None:
    here.request("tight", due=DAY + timedelta(days=2))
    for name in ("free", "late", "tight"):
        done = desk.change(f"requests/{name}/wait/", WAIT)
        assert done.status_code == 201, done.content
        assert done["Location"] == f"/api/v1/requests/{name}/waiting/"
    assert waiting(desk) == ["late", "tight", "waits", "free"]
    assert waiting(desk, "&order=since") == ["waits", "free", "late", "tight"]
    assert waiting(desk, "&proposed=true") == ["waits"]
    assert waiting(desk, "&proposed=false&site=site-1") == ["late", "tight", "free"]
    assert desk.get("requests/free/waiting/").json()["last_day"] == "2026-03-12"
    problem(desk.get("requests/booked/waiting/"), 404, "not_found")


def test_what_would_do_is_changed_and_the_place_kept(desk: Caller) -> None:
    since = desk.get("requests/waits/waiting/").json()["since"]
    problem(desk.change("requests/waits/wait/", WAIT), 409, "changed_meanwhile")
    done = desk.change("requests/waits/waiting/change/", WAIT)
    found = done.json()
    assert (done.status_code, found["part"], found["hours_ahead"]) == (200, "am", 4)
    assert found["since"] == since
    assert Waiting.objects.count() == 1
    wrong = {"first_day": "2026-03-12", "last_day": "2026-03-11"}
    problem(desk.change("requests/waits/waiting/change/", wrong), 400, "invalid")
    problem(desk.change("requests/free/wait/", {"site": "moon"}), 400, "invalid")


def test_who_leaves_is_asked_nothing_more(desk: Caller) -> None:
    done = desk.change("requests/waits/waiting/leave/")
    assert (done.status_code, done.json()["ended_how"]) == (200, WaitingEnd.STOPPED)
    assert waiting(desk) == []
    assert Proposal.objects.get().answer == ProposalAnswer.LAPSED
    problem(desk.post("requests/waits/waiting/leave/", if_match="*"), 404, "not_found")


def test_who_takes_the_time_is_booked_and_off_the_list(desk: Caller) -> None:
    one = number()
    assert desk.get("requests/waits/waiting/").json()["proposal"]["number"] == one
    tag = desk.get(f"proposals/{one}/")["ETag"]
    done = desk.post(f"proposals/{one}/accept/", if_match=tag, idempotency_key="p-1")
    made = Appointment.objects.get(request__reference="waits")
    assert done.status_code == 200, done.content
    assert (done.json()["answer"], done.json()["appointment"]) == ("taken", made.code)
    assert (made.day, made.told_minute) == (DAY + timedelta(days=1), 600)
    assert waiting(desk) == []
    again = desk.post(f"proposals/{one}/accept/", if_match=tag, idempotency_key="p-1")
    assert again.content == done.content
    problem(desk.post(f"proposals/{one}/accept/", if_match="*"), 409, "changed_meanwhile")
    problem(desk.post(f"proposals/{one}/decline/", if_match="*"), 409, "changed_meanwhile")


def test_a_time_that_went_to_somebody_else_lapses_and_the_request_waits_on(
    desk: Caller, here: World
) -> None:
    one = number()
    for technician, station in zip(here.technicians, here.stations, strict=True):
        name = f"faster-{technician.code}"
        here.book(
            here.request(name),
            600,
            day=DAY + timedelta(days=1),
            technician=technician,
            station=station,
        )
    found = problem(desk.change(f"proposals/{one}/accept/"), 409, "slot_taken")
    assert "not free any more" in found["detail"]
    assert desk.get(f"proposals/{one}/").json()["answer"] == "lapsed"
    assert waiting(desk) == ["waits"]


def test_a_time_that_is_declined_is_put_to_who_is_next(
    desk: Caller, django_capture_on_commit_callbacks: Any
) -> None:
    one = number()
    assert desk.change("requests/free/wait/", WAIT).status_code == 201
    with django_capture_on_commit_callbacks(execute=True):
        assert desk.change(f"proposals/{one}/decline/").json()["answer"] == "declined"
    told = desk.get("proposals/?open=true").json()["results"]
    assert {each["request"] for each in told} == {"waits", "free"}
    assert {each["day"] for each in told} == {"2026-03-03"}
    assert one not in {each["number"] for each in told}
    assert waiting(desk) == ["waits", "free"]


def test_looking_for_times_twice_does_nothing_the_second_time(desk: Caller) -> None:
    assert desk.change("requests/late/wait/", WAIT).status_code == 201
    served = desk.post("waiting/serve/").json()["served"]
    assert [(each["request"], each["appointment"]) for each in served] == [("late", None)]
    assert desk.post("waiting/serve/").json() == {"served": []}
    assert desk.get("requests/late/waiting/").json()["proposal"]["told"] == served[0]["told"]
