"""The OpenAPI document, its page, lists page by page, and the counting of calls."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jsonschema
from django.core.cache import cache
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import resolve
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.validation import validate_schema

from planner.api.documents import document
from planner.api.pages import MOST
from planner.api.parameters import NUMBERS, PATHS
from sites.models import Request, Role
from tests.api.calls import Caller, problem
from tests.api.operations import ROWS, Row
from tests.sites.build import World


def test_the_document_is_valid() -> None:
    """Against the JSON schema of the OpenAPI specification (3.0), which drf-spectacular carries."""
    found = document()
    validate_schema(found)  # type: ignore[no-untyped-call]
    assert found["openapi"].startswith("3.")


def test_no_two_shapes_share_a_name() -> None:
    """The maker of the document warns where one would hide the other."""
    GENERATOR_STATS.reset()
    with GENERATOR_STATS.silence():
        document()
    assert not GENERATOR_STATS


def test_every_refusal_has_an_example() -> None:
    for path in document()["paths"].values():
        for each in path.values():
            for status, said in each["responses"].items():
                if int(status) >= 400:
                    (kind,) = said["content"]
                    assert kind == "application/problem+json"
                    assert said["content"][kind]["examples"], each["operationId"]


def contents(each: dict[str, Any]) -> Iterator[dict[str, Any]]:
    """What an operation takes and what it answers with, each with its shape and examples."""
    yield from each.get("requestBody", {}).get("content", {}).values()
    for answer in each["responses"].values():
        yield from answer.get("content", {}).values()


def plain(shape: Any) -> Any:
    """A shape as JSON schema has it, which knows no ``nullable``."""
    if isinstance(shape, list):
        return [plain(each) for each in shape]
    if not isinstance(shape, dict):
        return shape
    found = {name: plain(each) for name, each in shape.items()}
    if found.pop("nullable", False) is True:
        return {"anyOf": [found, {"type": "null"}]}
    return found


def test_every_example_is_what_its_shape_says() -> None:
    """Judged by jsonschema, which had no part in making the document."""
    whole = document()
    components = plain(whole["components"])
    wrong, count = [], 0
    for each in (each for path in whole["paths"].values() for each in path.values()):
        for said in contents(each):
            shape = jsonschema.Draft4Validator(
                {**plain(said["schema"]), "components": components},
                format_checker=jsonschema.FormatChecker(),
            )
            for named in said.get("examples", {}).values():
                count += 1
                wrong += [
                    (each["operationId"], fault.json_path, fault.message)
                    for fault in shape.iter_errors(named["value"])
                ]
    assert wrong == []
    assert count > 200


def test_pages_hold_every_row_once_in_every_order(desk: Caller) -> None:
    everything = set(Request.objects.values_list("reference", flat=True))
    for order in ("slack", "due", "-due", "received", "-received", "reference"):
        seen: list[str] = []
        path = f"requests/?order={order}&limit=3"
        while path:
            page = desk.get(path).json()
            assert len(page["results"]) <= 3
            seen += [each["reference"] for each in page["results"]]
            path = (page["next"] or "").removeprefix("/api/v1/")
        assert len(seen) == len(set(seen))
        assert set(seen) == everything, order


def test_rows_that_come_meanwhile_shift_nothing(desk: Caller, here: World) -> None:
    first = desk.get("requests/?order=reference&limit=5").json()
    here.request("a-new-one")
    second = desk.get(first["next"].removeprefix("/api/v1/")).json()
    names = [each["reference"] for page in (first, second) for each in page["results"]]
    assert names == sorted(names)
    assert len(names) == len(set(names))
    assert "a-new-one" not in names


def test_a_cursor_of_another_order_or_of_nobody_is_refused(desk: Caller) -> None:
    cursor = desk.get("requests/?order=due&limit=2").json()["next"].split("cursor=")[1]
    for query in (f"order=slack&cursor={cursor}", f"order=due&cursor={cursor}x"):
        found = problem(desk.get(f"requests/?{query}"), 400, "invalid")
        assert found["errors"][0]["parameter"] == "cursor"


def test_a_list_asks_a_fixed_number_of_queries(
    desk: Caller, here: World, django_assert_max_num_queries: Any
) -> None:
    for number in range(30):
        here.request(f"more-{number}")
    desk.get("me/")
    with django_assert_max_num_queries(6):
        assert len(desk.get(f"requests/?limit={MOST}").json()["results"]) > 40


def test_calls_beyond_the_rate_are_told_when_to_come_again(here: World, settings: Any) -> None:
    """RFC 6585, section 4: 429 may say Retry-After. Each person is counted alone, for each kind."""
    cache.clear()
    settings.API_RATES = {"read": "2/hour", "write": "2/hour", "heavy": "1/hour"}
    desk, other = Caller(here.desk), Caller(here.users[Role.MANAGER])
    second_token = Caller(here.desk)
    assert [each.get("sites/").status_code for each in (desk, second_token)] == [200, 200]
    answer = desk.get("sites/")
    problem(answer, 429, "too_many")
    assert 0 < int(answer["Retry-After"]) <= 3600
    assert desk.post("people/find/", {"words": "s-booked"}).status_code == 200
    assert other.get("sites/").status_code == 200
    cache.clear()


def test_no_list_asks_more_for_more_rows(here: World) -> None:
    """A page of one row costs as many queries as one of all rows."""
    user = here.users[Role.ADMINISTRATOR]
    caller, more, wrong = Caller(user), 0, []
    caller.get("me/")
    for path in sorted(row.address(here, user) for row in ROWS.values() if is_list(row)):
        counts, rows = [], []
        for limit in (1, MOST):
            with CaptureQueriesContext(connection) as asked:
                rows.append(len(caller.get(f"{path}?limit={limit}").json()["results"]))
            counts.append(len(asked))
        more += rows[1] > 1
        if counts[1] > counts[0]:
            wrong.append((path, counts))
    assert wrong == []
    assert more > 10


def is_list(row: Row) -> bool:
    """Whether an operation answers page by page."""
    numbers: dict[str, Any] = dict.fromkeys(NUMBERS, 1)
    parts = {name: numbers.get(name, "x") for name in PATHS}
    views = getattr(resolve(f"/api/v1/{row.path.format(**parts)}").func, "operations", {})
    return row.method == "GET" and hasattr(views["GET"], "orders")
