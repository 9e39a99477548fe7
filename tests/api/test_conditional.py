"""Conditional calls as RFC 9110 has them (section numbers beside each check)."""

from __future__ import annotations

import re

from sites.models import Appointment, Request, Step
from sites.services.appointments import appointment_step
from tests.api.calls import Caller, problem
from tests.api.operations import PLACE, ROWS
from tests.sites.build import World

MOVE = {"why": "asked for another day", **PLACE}


def of(name: str) -> str:
    """The address of a request's appointment."""
    return f"appointments/{Appointment.objects.get(request__reference=name).code}/"


def test_what_is_read_carries_a_strong_tag(desk: Caller) -> None:
    """8.8.3: an opaque tag in quotes, not weak; the same while nothing changes."""
    first, second = desk.get("requests/free/"), desk.get("requests/free/")
    assert re.fullmatch(r'"[\x21\x23-\x7e]+"', first["ETag"])
    assert first["ETag"] == second["ETag"]
    assert first["ETag"] != desk.get("requests/booked/")["ETag"]


def test_who_has_it_already_is_sent_nothing(desk: Caller) -> None:
    """13.1.2 and 15.4.5: If-None-Match compares weakly; 304 has no body and keeps the tag."""
    tag = desk.get("sites/site-1/")["ETag"]
    for sent in (tag, f'"other", {tag}', f"W/{tag}", "*"):
        answer = desk.get("sites/site-1/", if_none_match=sent)
        assert (answer.status_code, answer.content, answer["ETag"]) == (304, b"", tag)
    assert desk.get("sites/site-1/", if_none_match='"other"').status_code == 200
    problem(desk.get("sites/site-1/", if_none_match="no tag"), 400, "invalid")


def test_a_change_says_what_it_was_decided_on(desk: Caller) -> None:
    """RFC 6585, section 3: 428 where the condition is missing."""
    found = problem(desk.post(of("booked") + "move/", MOVE), 428, "no_precondition")
    assert "If-Match" in found["detail"]
    assert Appointment.objects.get(request__reference="booked").version == 1


def test_a_change_of_what_has_changed_is_refused(desk: Caller, here: World) -> None:
    """13.1.1 and 15.5.13: 412 and nothing is done; the tag of now comes along."""
    place = of("booked")
    stale = desk.get(place)["ETag"]
    one = Appointment.objects.get(request__reference="booked")
    appointment_step(appointment=one, action="arrive", by=here.desk)
    answer = desk.post(place + "move/", MOVE, if_match=stale)
    problem(answer, 412, "changed")
    assert answer["ETag"] == desk.get(place)["ETag"] != stale
    one.refresh_from_db()
    assert (one.version, one.step) == (2, Step.ARRIVED)


def test_a_weak_tag_matches_nothing(desk: Caller) -> None:
    """13.1.1 with 8.8.3.2: If-Match compares strongly."""
    place = of("booked")
    tag = desk.get(place)["ETag"]
    problem(desk.post(place + "move/", MOVE, if_match=f"W/{tag}"), 412, "changed")
    problem(desk.post(place + "move/", MOVE, if_match="nonsense"), 400, "invalid")


def test_one_of_several_tags_is_enough_and_a_star_takes_all(desk: Caller) -> None:
    """13.1.1."""
    place = of("booked")
    done = desk.post(place + "move/", MOVE, if_match=f'"other", {desk.get(place)["ETag"]}')
    assert (done.status_code, done.json()["version"]) == (200, 2)
    assert done["ETag"] == desk.get(place)["ETag"]
    done = desk.post(place + "cancel/", {"why": "asked for it"}, if_match="*")
    assert (done.status_code, done.json()["step"]) == (200, "cancelled")


def test_the_tag_of_a_request_follows_where_it_stands(desk: Caller, here: World) -> None:
    """Where a request stands is not in its row; whoever closes it decides on it all the same."""
    seen = desk.get("requests/free/")["ETag"]
    appointment = here.book(Request.objects.get(reference="free"), 720)
    problem(desk.post("requests/free/close/", {"why": "x"}, if_match=seen), 412, "changed")
    appointment_step(appointment=appointment, action="cancel", by=here.desk, why="x")
    done = desk.change("requests/free/close/", {"why": "withdrawn"})
    assert done.json()["standing"] == "closed"


def test_every_change_asks_for_a_condition(here: World) -> None:
    user = here.users["administrator"]
    caller = Caller(user)
    changes = {name: row for name, row in ROWS.items() if row.on}
    assert len(changes) > 9
    for row in changes.values():
        path = row.address(here, user)
        problem(caller.post(path, row.body), 428, "no_precondition")
        problem(caller.post(path, row.body, if_match='"stale"'), 412, "changed")


def test_answers_are_private(desk: Caller) -> None:
    """RFC 9111, sections 5.2.2.7 and 5.2.2.4; a person is kept by no cache (5.2.2.5)."""
    answer = desk.get("requests/")
    assert answer["Cache-Control"] == "private, no-cache"
    assert {"Authorization", "Cookie"} <= set(answer["Vary"].split(", "))
    assert desk.get("requests/booked/person/")["Cache-Control"] == "no-store"
