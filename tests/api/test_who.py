"""Owner, colleague, stranger and nobody for every operation; none is without its row."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlencode

import pytest
from django.db import transaction
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from planner.api.documents import document
from planner.api.operation import Operation
from sites.models import Role, Site, User
from tests.api.calls import API, Caller, problem
from tests.api.operations import ROWS, Row
from tests.sites.build import World

SCOPED = (Role.COORDINATOR, Role.SITE_LEAD, Role.TECHNICIAN)
LISTS = {name for name, row in ROWS.items() if name.endswith("_list")} - {
    "sites_list",
    "tokens_list",
    "programmes_list",
    "profiles_list",
    "texts_list",
}
"""Lists of what belongs to a site."""

METHODS = {"get", "post", "put", "patch", "delete"}


def call(row: Row, here: World, caller: Caller, user: User) -> Any:
    """Call an operation as its row says, with the ETag that it needs."""
    query = f"?{urlencode(row.query)}" if row.query else ""
    path = row.address(here, user)
    if row.session:
        caller.client.force_login(user)
        caller.signed = {}
    if row.method == "GET":
        return caller.get(path + query)
    if row.method == "DELETE":
        return caller.delete(path)
    return caller.change(path, row.body) if row.on else caller.post(path, row.body)


def described() -> set[str]:
    """Names of all operations of the document."""
    return {
        each["operationId"]
        for path in document()["paths"].values()
        for method, each in path.items()
        if method in METHODS
    }


def test_every_operation_has_a_row_and_no_other() -> None:
    assert described() == set(ROWS)
    assert len(ROWS) > 45


def test_every_operation_is_in_the_document_and_names_a_rule() -> None:
    """Addresses below the API's lead to operations, but for the page and the end of the list."""
    found: dict[str, type[Operation]] = {}

    def walk(patterns: Any, prefix: str) -> None:
        for each in patterns:
            path = prefix + str(each.pattern)
            if isinstance(each, URLResolver):
                walk(each.url_patterns, path)
            elif path.startswith("api/v1/") and isinstance(each, URLPattern):
                views = getattr(each.callback, "operations", {})
                if not views:
                    assert path in {
                        "api/v1/docs/",
                        "api/v1/docs/<slug:subject>/",
                        "api/v1/^(?P<rest>.*)$",
                    }
                found.update({f"{method} {path}": view for method, view in views.items()})

    walk(get_resolver().url_patterns, "")
    assert len(found) == len(ROWS)
    assert all(view.rule for view in found.values())


@contextmanager
def undone() -> Iterator[None]:
    """Whatever is done inside is taken back, so that every call meets the same record."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


def test_nobody_is_asked_to_sign_in(here: World) -> None:
    """RFC 9110, section 11.6.1: 401 comes with a challenge."""
    for name, row in ROWS.items():
        caller = Caller(None)
        path = row.address(here, here.desk)
        send = {"GET": caller.get, "POST": caller.post, "DELETE": caller.delete}[row.method]
        answer = send(path) if row.method != "POST" else caller.post(path, row.body)
        problem(answer, 401, "not_signed_in")
        assert answer["WWW-Authenticate"] == 'Bearer realm="platen"', name


@pytest.mark.parametrize("role", Role)
def test_owners_may_and_strangers_are_told_who_may(here: World, role: Role) -> None:
    user = here.users[role]
    wrong = []
    for name, row in ROWS.items():
        with undone():
            answer = call(row, here, Caller(user), user)
            if role in row.roles and answer.status_code != row.status:
                wrong.append((name, answer.status_code, answer.content))
            elif role not in row.roles:
                said = problem(answer, 403, "not_allowed")["detail"]
                assert " is for " in said
                assert "administrator" in said
    assert wrong == []


@pytest.mark.parametrize("role", SCOPED)
def test_a_colleague_of_another_site_finds_nothing_here(here: World, role: Role) -> None:
    there = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    user = User.objects.create(username="colleague", role=role)
    user.covers.add(there)
    wrong = []
    for name, row in ROWS.items():
        if role not in row.roles:
            continue
        with undone():
            answer = call(row, here, Caller(user), user)
            if answer.status_code != row.abroad:
                wrong.append((name, answer.status_code, answer.content))
            elif name in LISTS:
                assert answer.json()["results"] == [], name
    assert wrong == []


def test_a_session_signs_in_and_its_writes_need_the_csrf_token(here: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(here.desk)
    assert client.get(f"{API}me/").json()["login"] == here.desk.username
    refused = client.post(
        f"{API}people/find/", {"words": "s-booked"}, content_type="application/json"
    )
    assert "CSRF" in problem(refused, 403, "not_allowed")["detail"]
    client.get("/sign-in/")
    client.get("/requests/")
    token = client.cookies["csrftoken"].value
    done = client.post(
        f"{API}people/find/",
        {"words": "s-booked"},
        content_type="application/json",
        headers={"X-CSRFToken": token},
    )
    assert (done.status_code, done.json()) == (200, {"requests": ["booked"]})


def test_a_wrong_token_beside_a_session_is_refused(here: World) -> None:
    """Whoever sends a token means it: no fallback to somebody else's sign-in."""
    client = Client()
    client.force_login(here.desk)
    answer = client.get(f"{API}me/", headers={"Authorization": "Bearer nonsense"})
    problem(answer, 401, "not_signed_in")
    # RFC 6750, section 3.1
    assert answer["WWW-Authenticate"] == 'Bearer realm="platen", error="invalid_token"'
