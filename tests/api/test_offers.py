"""Free times by the API: listed, narrowed, taken once, and put to who waits where given back."""

from __future__ import annotations

from typing import Any

import pytest

from sites.models import Appointment, Proposal, Request, Role, Site, User
from sites.services.waiting import waiting_join
from tests.api.calls import Caller, problem
from tests.sites.build import DAY, World

NEXT = "2026-03-03"
ONE_DAY = f"first={NEXT}&last={NEXT}&top=60"
AT = {"site": "site-1", "day": NEXT, "told": "10:00"}


def told(caller: Caller, query: str = ONE_DAY, name: str = "free") -> list[tuple[str, str]]:
    """The day and told time of each time, in order."""
    answer = caller.get(f"requests/{name}/offers/?{query}")
    assert answer.status_code == 200, answer.content
    return [(each["day"], each["told"]) for each in answer.json()["times"]]


def test_the_query_narrows_the_times(desk: Caller) -> None:
    assert {day for day, _ in told(desk)} == {NEXT}
    assert all(time < "12:00" for _, time in told(desk, f"{ONE_DAY}&part=am"))
    assert all(time >= "12:00" for _, time in told(desk, f"{ONE_DAY}&part=pm"))
    assert len(told(desk, "top=4")) == 4


@pytest.mark.parametrize(
    ("query", "parameter"),
    [
        ("site=moon", "site"),
        ("skill=flying", "skill"),
        ("part=eve", "part"),
        ("top=61", "top"),
        (f"first={NEXT}&last=2026-03-02", "last"),
        ("day=2026-03-03", "day"),
    ],
)
def test_a_wrong_narrowing_is_named(desk: Caller, query: str, parameter: str) -> None:
    found = problem(desk.get(f"requests/free/offers/?{query}"), 400, "invalid")
    assert [each["parameter"] for each in found["errors"]] == [parameter]


def test_nothing_is_looked_for_where_the_person_is_there_already(desk: Caller) -> None:
    problem(desk.get("requests/arrived/offers/"), 422, "bad_value")
    problem(desk.get("requests/held/offers/"), 422, "bad_value")
    problem(desk.change("requests/arrived/take/", AT), 422, "bad_value")


def test_where_nothing_is_free_the_reason_and_the_remedy_are_told(
    desk: Caller, here: World
) -> None:
    here.request("far", release=DAY.replace(month=4, day=20), due=DAY.replace(month=5))
    found = desk.get("requests/far/offers/").json()
    assert found["times"] == []
    assert found["reasons"][0]["detail"].startswith("no technician is rostered at Site 1")
    assert found["reasons"][0]["remedy"]


def test_a_time_is_booked_once_and_moved_on(desk: Caller) -> None:
    done = desk.change("requests/free/take/", AT)
    assert (done.status_code, done.json()["done"]) == (200, "booked"), done.content
    made = Appointment.objects.get(request__reference="free")
    assert done["Location"] == f"/api/v1/appointments/{made.code}/"
    assert (done.json()["appointment"]["told"], made.told_minute) == ("10:00", 600)
    assert desk.change("requests/free/take/", AT).json()["done"] == "stands"
    later = AT | {"told": "14:00", "why": "asked for it"}
    assert desk.change("requests/free/take/", later).json()["done"] == "moved"
    assert [event.what for event in made.events.all()] == ["book", "move"]


def test_who_was_slower_changes_nothing(desk: Caller, here: World) -> None:
    """A tag of a request stands for its appointment's version, too: moved within a day."""
    tag = desk.get("requests/booked/")["ETag"]
    assert desk.change("requests/booked/take/", AT).status_code == 200
    later = AT | {"told": "14:00"}
    assert desk.change("requests/booked/take/", later).status_code == 200
    problem(desk.post("requests/booked/take/", AT, if_match=tag), 412, "changed")
    stale = desk.get("requests/booked/")["ETag"]
    assert desk.change("requests/booked/take/", AT).status_code == 200
    problem(desk.post("requests/booked/take/", later, if_match=stale), 412, "changed")
    assert Appointment.objects.get(request__reference="booked").told_minute == 600


def test_a_time_that_is_gone_is_refused(desk: Caller, here: World) -> None:
    assert (NEXT, "10:00") in told(desk)
    for name in ("one", "two"):
        assert desk.change(f"requests/{here.request(name).reference}/take/", AT).status_code == 200
    found = problem(desk.change("requests/free/take/", AT), 409, "slot_taken")
    assert "not free any more" in found["detail"]
    assert (NEXT, "10:00") not in told(desk)


def test_only_times_at_own_sites_are_offered_and_taken(here: World) -> None:
    """A request that two sites accept, booked at one, and a coordinator of the other."""
    other = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    here.request("both", sites=[here.site, other])
    user = User.objects.create(username="other", role=Role.COORDINATOR)
    user.covers.add(other)
    caller = Caller(user)
    assert told(caller, name="both") == []
    problem(caller.change("requests/both/take/", AT), 409, "slot_taken")
    assert Caller(here.desk).change("requests/both/take/", AT).status_code == 200
    said = problem(caller.change("requests/both/take/", AT), 403, "not_allowed")
    assert "somebody who covers it" in said["detail"]
    problem(caller.change("requests/both/not-before/", {"day": "2026-03-10"}), 403, "not_allowed")


def test_what_is_given_back_is_put_to_who_waits(
    desk: Caller, here: World, django_capture_on_commit_callbacks: Any
) -> None:
    free = Request.objects.get(reference="free")
    day = DAY.replace(day=3)
    waiting_join(request=free, by=here.desk, hours_ahead=0, first_day=day, last_day=day)
    assert desk.change("requests/booked/take/", AT).status_code == 200
    code = desk.get("requests/booked/").json()["appointment"]
    with django_capture_on_commit_callbacks(execute=True):
        done = desk.change(f"appointments/{code}/cancel/", {"why": "asked for it"})
    assert done.json()["step"] == "cancelled"
    put = Proposal.objects.filter(answer="").exclude(waiting__request__reference="waits")
    assert [each.waiting.request for each in put] == [free]


def test_hands_that_need_days_give_the_time_back(desk: Caller) -> None:
    done = desk.change("requests/booked/not-before/", {"day": "2026-03-10"})
    assert (done.status_code, done.json()["standing"]) == (200, "to_book"), done.content
    assert min(day for day, _ in told(desk, "top=5", "booked")) == "2026-03-10"
    problem(desk.change("requests/free/not-before/", {"day": "2026-03-02"}), 422, "bad_value")
    problem(desk.change("requests/arrived/not-before/", {}), 400, "invalid")


def test_nobody_is_missed_before_their_time(desk: Caller) -> None:
    """It is 11:00 at the site: one was told for 11:30, the other for 9:00."""
    codes = {
        name: desk.get(f"requests/{name}/").json()["appointment"] for name in ("booked", "unseen")
    }
    said = problem(desk.change(f"appointments/{codes['booked']}/missed/", {}), 409, "step_refused")
    assert "11:30" in said["detail"]
    assert desk.change(f"appointments/{codes['unseen']}/missed/", {}).json()["step"] == "no_show"
