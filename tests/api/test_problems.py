"""Every refusal is problem details: the shape of RFC 9457 (section numbers beside each check)."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit
from uuid import UUID

from django.test import Client

from planner.api.kinds import KINDS
from planner.api.problems import places, pointer, problem_of
from planner.engine.errors import Fault, FileRefused, NetworkImpossible
from sites import errors
from sites.models import Request, Subject
from tests.api.calls import API, Caller, problem
from tests.sites.build import World


def whole(answer: Any, status: int, kind: str) -> dict[str, Any]:
    """A problem with every member that the RFC describes."""
    found = problem(answer, status, kind)
    assert urlsplit(found["type"]).path == found["type"]  # 3.1.1: a URI reference
    assert found["status"] == status  # 3.1.2: the same as the response's
    assert found["title"] == KINDS[kind].title  # 3.1.3: the same for every problem of a type
    assert found["detail"].strip()  # 3.1.4: about this occurrence
    assert UUID(found["instance"].removeprefix("urn:uuid:"))  # 3.1.5: a URI of this occurrence
    assert set(found) <= {"type", "title", "status", "detail", "instance", "errors"}  # 3.2
    return found


def test_what_is_wrong_in_a_body_is_named_with_its_place(desk: Caller) -> None:
    """RFC 9457, section 3: its example names places by JSON pointers in fragments."""
    body = {"reference": "no good", "programme": 5, "subject": {"name": "x"}, "sites": ["a", "b c"]}
    found = whole(desk.post("requests/", body), 400, "invalid")
    named = {each["pointer"] for each in found["errors"]}
    assert {"#/reference", "#/programme", "#/subject/name", "#/sites/1", "#/profile"} <= named
    assert all(each["detail"] for each in found["errors"])
    assert Request.objects.filter(reference="no good").count() == 0


def test_pointers_are_escaped() -> None:
    """RFC 6901, sections 3 to 6: the examples of section 5 and 6, as fragments (seen)."""
    assert pointer(("a/b",)) == "#/a~1b"
    assert pointer(("m~n",)) == "#/m~0n"
    assert pointer(("c%d",)) == "#/c%25d"
    assert pointer(("e^f",)) == "#/e%5Ef"
    assert pointer((" ",)) == "#/%20"
    assert pointer(()) == "#"


def test_places_of_nested_faults_by_hand() -> None:
    fault = {"message": "bad", "code": "x"}
    found = list(places({"a": [{}, {"b": [fault]}], "non_field_errors": [fault]}, ()))
    assert found == [(("a", "1", "b"), "bad"), ((), "bad")]


QUERIES = (
    ("requests/?due_from=2026-02-30", "due_from"),
    ("requests/?due_from=20260301", "due_from"),
    ("requests/?due_from=1026-02-03", "due_from"),
    ("requests/?standing=lost", "standing"),
    ("requests/?rework=maybe", "rework"),
    ("requests/?site=a%20b", "site"),
    ("requests/?site=", "site"),
    ("requests/?site=a&site=b", "site"),
    ("requests/?name=x", "name"),
    ("requests/?order=luck", "order"),
    ("requests/?limit=0", "limit"),
    ("requests/?limit=201", "limit"),
    ("requests/?limit=%D9%A3", "limit"),
    ("requests/?cursor=x", "cursor"),
    ("figures/?days=0", "days"),
    ("figures/?day=3", "day"),
    ("sites/site-1/?x=1", "x"),
    ("requests/?begins=%00", "begins"),
)


def test_what_is_wrong_in_a_query_is_named(desk: Caller) -> None:
    for path, parameter in QUERIES:
        found = whole(desk.get(path), 400, "invalid")
        assert {each["parameter"] for each in found["errors"]} == {parameter}, path


def test_what_is_not_there(desk: Caller) -> None:
    for path in ("nowhere/", "requests/nobody/", "sites/site-1/days/2026-02-30/"):
        whole(desk.get(path), 404, "not_found")


def test_a_method_that_an_address_has_not(desk: Caller) -> None:
    """RFC 9110, section 15.5.6: 405 comes with Allow."""
    answer = desk.client.put(f"{API}requests/", headers=desk.signed)
    whole(answer, 405, "no_such_method")
    assert answer["Allow"] == "GET, HEAD, OPTIONS, POST"
    assert desk.client.options(f"{API}requests/")["Allow"] == answer["Allow"]
    assert desk.get("requests/")["Allow"] == answer["Allow"]


def test_formats_that_nobody_speaks(desk: Caller) -> None:
    whole(desk.get("sites/", accept="text/html"), 406, "not_acceptable")
    form = desk.client.post(f"{API}requests/", {"a": 1}, headers=desk.signed)
    whole(form, 415, "not_a_json_type")


OTHER_JSON = (b'"text"', b"[]", b"17")
BODIES = (b"{", b"\xff", b'{"reference": NaN}', b"[" * 100_000, b"1" * 5000, *OTHER_JSON)


def test_a_body_that_is_no_json_object(desk: Caller) -> None:
    for body in BODIES:
        answer = desk.client.post(
            f"{API}requests/", body, content_type="application/json", headers=desk.signed
        )
        assert answer.status_code == 400, body[:20]
        kind = "invalid" if body in OTHER_JSON else "not_json"
        problem(answer, 400, kind)


def test_a_body_that_is_too_large(desk: Caller, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 1000
    whole(desk.post("people/find/", {"words": "x" * 2000}), 413, "too_large")


def test_a_text_that_no_database_takes_is_named(desk: Caller) -> None:
    for text in ("a\x00b", "a\ud800b"):
        found = whole(desk.post("people/find/", {"words": text}), 400, "invalid")
        assert found["errors"][0]["pointer"] == "#/words"


def test_the_record_says_what_it_refuses(desk: Caller, here: World) -> None:
    """A booking in a booked time names the trouble and the remedy; nothing is booked."""
    body = {
        "request": "free",
        "station": "st-1",
        "technician": "t-1",
        "day": "2026-03-02",
        "time": "11:00",
        "minutes": 20,
    }
    found = whole(desk.post("appointments/", body), 409, "slot_taken")
    assert "choose another time" in found["detail"]
    assert desk.get("requests/free/").json()["standing"] == "to_book"


def test_every_error_of_record_and_engine_is_a_problem() -> None:
    """Each class of `sites.errors` has a kind of its own; the engine's faults are listed."""
    for cls in errors.RecordError.__subclasses__():
        found = problem_of(cls("it", "is wrong", "correct it"))
        assert found is not None
        assert found.kind == cls.code, f"add {cls.code} to planner/api/kinds.py"
        assert found.detail == "it is wrong: correct it."
    fault = Fault("requests[1].due", "is early", "choose a later day")
    for error in (FileRefused([fault]), NetworkImpossible([fault])):
        found = problem_of(error)
        assert found is not None
        assert found.errors == [{"detail": "is early; choose a later day"}]


def test_a_busy_record_says_when_to_come_again() -> None:
    """RFC 9110, sections 15.6.4 and 10.2.3."""
    found = problem_of(errors.Busy("the record", "is busy", "wait"))
    assert found is not None
    assert (found.status, found.headers) == (503, {"Retry-After": "2"})


def test_a_fault_of_ours_shows_nothing_of_its_inside(
    desk: Caller, caplog: Any, settings: Any
) -> None:
    """A contact field whose key is gone: the log knows why, the answer does not."""
    desk.client.raise_request_exception = False
    Subject.objects.filter(reference="s-booked").update(family_name="Tavoren")
    settings.CONTACT_KEYS = ["another"]
    answer = desk.get("requests/booked/person/")
    found = whole(answer, 500, "fault")
    assert "PLATEN_CONTACT_KEYS" not in answer.content.decode()
    assert found["instance"] in caplog.text
    assert "PLATEN_CONTACT_KEYS" in caplog.text


def test_a_host_that_is_not_ours_is_refused_in_the_same_form(db: None) -> None:
    answer = Client().get(f"{API}sites/", headers={"Host": "elsewhere.invalid"})
    whole(answer, 400, "invalid")


def test_what_a_problem_means_can_be_read(desk: Caller) -> None:
    """RFC 9457, section 3.1.1: the type's address should lead to words for people."""
    for kind, known in KINDS.items():
        answer = desk.get(f"problems/{kind}/")
        assert answer.json()["title"] == known.title
    whole(desk.get("problems/nonsense/"), 404, "not_found")
