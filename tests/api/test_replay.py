"""Idempotency keys: done once, answered alike, refused for anything else, gone after a day."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.utils import timezone

from sites.errors import CallUnderway, ChangedMeanwhile, KeyReused
from sites.models import ApiCall, Request, User
from sites.services.api_calls import (
    ANSWERED_WITHIN,
    KEPT,
    api_call_answer,
    api_call_begin,
)
from tests.api.calls import API, Caller, problem
from tests.api.operations import ROWS
from tests.sites.build import World

BODY: dict[str, Any] = ROWS["request_receive"].body


def receive(caller: Caller, key: str, **changes: Any) -> Any:
    """Take a request in under a key."""
    return caller.post("requests/", BODY | changes, idempotency_key=key)


def test_the_same_call_is_answered_again_and_done_once(desk: Caller) -> None:
    first, second = receive(desk, "k-1"), receive(desk, "k-1")
    assert first.status_code == second.status_code == 201
    assert first.content == second.content
    for name in ("Location", "ETag"):
        assert first.headers.get(name) == second.headers.get(name)
    assert first["Location"] == f"{API}requests/new-1/"
    assert "Idempotency-Replayed" not in first.headers
    assert second["Idempotency-Replayed"] == "true"
    assert Request.objects.filter(reference="new-1").count() == 1


def test_without_a_key_the_second_call_is_another_one(desk: Caller) -> None:
    assert desk.post("requests/", BODY).status_code == 201
    problem(desk.post("requests/", BODY), 422, "bad_value")


def test_what_does_not_count_in_json_makes_no_other_call(desk: Caller) -> None:
    """RFC 8259, sections 2 and 4: spaces mean nothing, and names have no order."""
    receive(desk, "k-1")
    turned = dict(reversed(BODY.items()))
    assert desk.post("requests/", turned, idempotency_key="k-1").status_code == 201


def test_another_call_under_the_key_is_refused(desk: Caller) -> None:
    receive(desk, "k-1")
    problem(receive(desk, "k-1", reference="new-2"), 409, "key_reused")
    other = desk.post("people/find/", {"words": "x"}, idempotency_key="k-1")
    assert other.status_code == 200  # finding changes nothing and keeps no key
    booked = desk.post("appointments/", {"request": "free"}, idempotency_key="k-1")
    problem(booked, 409, "key_reused")
    assert not Request.objects.filter(reference="new-2").exists()


def test_a_key_belongs_to_who_sent_it(desk: Caller, here: World) -> None:
    receive(desk, "k-1")
    other = Caller(here.users["administrator"])
    problem(receive(other, "k-1"), 422, "bad_value")


def test_a_refused_call_leaves_its_key_free(desk: Caller) -> None:
    problem(receive(desk, "k-1", due="2020-01-01"), 400, "invalid")
    assert not ApiCall.objects.exists()
    assert receive(desk, "k-1").status_code == 201


def test_a_change_is_answered_again_though_its_tag_is_stale_by_then(desk: Caller) -> None:
    tag = desk.get("requests/free/")["ETag"]
    for _ in range(2):
        done = desk.post(
            "requests/free/close/", {"why": "withdrawn"}, if_match=tag, idempotency_key="k-2"
        )
        assert done.json()["standing"] == "closed"
    problem(desk.post("requests/free/close/", {"why": "withdrawn"}, if_match=tag), 412, "changed")


def test_a_key_that_is_none(desk: Caller) -> None:
    for key in ("", "two words", "é", "x" * 256):
        found = problem(receive(desk, key), 400, "invalid")
        assert found["errors"][0]["header"] == "Idempotency-Key"


def begin(user: User, at: Any, body: bytes = b"x") -> ApiCall:
    """Begin a call."""
    return api_call_begin(caller=user, key="k", sent=(b"POST", body), at=at)


def test_a_call_that_is_being_worked_on_is_not_done_twice(here: World) -> None:
    now = timezone.now()
    first = begin(here.desk, now)
    with pytest.raises(CallUnderway):
        begin(here.desk, now + ANSWERED_WITHIN - timedelta(seconds=1))
    with pytest.raises(KeyReused):
        begin(here.desk, now, b"y")
    api_call_answer(call=first, answer="{}")
    assert begin(here.desk, now).answer == "{}"


def test_a_call_whose_worker_died_is_taken_over_once(here: World) -> None:
    """The answer is kept with the work: no answer after so long means that nothing was done."""
    now = timezone.now()
    dead = begin(here.desk, now)
    later = now + ANSWERED_WITHIN
    second = begin(here.desk, later)
    assert second.attempt == 2
    with pytest.raises(CallUnderway):
        begin(here.desk, later)
    with pytest.raises(ChangedMeanwhile):
        api_call_answer(call=dead, answer="late")
    api_call_answer(call=second, answer="in time")
    assert begin(here.desk, later).answer == "in time"


def test_calls_are_kept_for_a_day(here: World) -> None:
    now = timezone.now()
    api_call_answer(call=begin(here.desk, now), answer="{}")
    assert begin(here.desk, now + KEPT - timedelta(seconds=1)).answer == "{}"
    fresh = begin(here.desk, now + KEPT)
    assert fresh.answer is None
    assert ApiCall.objects.count() == 1


def test_nothing_of_a_call_is_kept_in_clear(desk: Caller) -> None:
    """Neither key nor body nor answer can be read in the database, names least of all."""
    receive(desk, "key-of-tavoren")
    person = {"reference": "s-3", "email": "a@tavoren.invalid"}
    receive(desk, "key-of-the-third", reference="new-3", subject=person)
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM record_apicall")
        kept = str(cursor.fetchall()).lower()
    assert ApiCall.objects.count() == 2
    for text in ("tavoren", "new-1", "new-3", "location", "key-of-the-third"):
        assert text not in kept
