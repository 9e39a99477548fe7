"""A request has an id, its own or the caller's, and the audit says who was behind each write."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from sites.models import AuditEntry, Role
from tests.sites.build import World
from tests.web.test_care import DOWN, look


def newest(noun: str) -> AuditEntry:
    """The newest entry of a noun."""
    return AuditEntry.objects.filter(noun=noun).order_by("-pk")[0]


def test_a_sane_id_is_taken_over_and_given_back(db: None, client: Client) -> None:
    for name in ("0123abcd", "a-request.of_ours", "x" * 64):
        assert client.get("/health/", headers={"X-Request-ID": name})["X-Request-ID"] == name


@pytest.mark.parametrize(
    "name", ["", "short", "x" * 65, "has space", "*/ DROP", "-leading-", "é" * 9]
)
def test_another_one_is_replaced(db: None, client: Client, name: str) -> None:
    made = client.get("/health/", headers={"X-Request-ID": name})["X-Request-ID"]
    assert re.fullmatch("[0-9a-f]{16}", made)


def test_two_requests_have_two_ids(db: None, client: Client) -> None:
    assert client.get("/health/")["X-Request-ID"] != client.get("/health/")["X-Request-ID"]


def test_a_form_that_is_sent_is_in_the_audit_with_login_and_request(
    desk: Client, here: World
) -> None:
    seen = look(desk, "downtime", DOWN).context["form"].seen()
    form = {**DOWN, "seen": seen, "save": "yes"}
    named = {"X-Request-ID": "this-request"}
    answer = desk.post("/care/site-1/downtime/", form, headers=named)
    assert (answer.status_code, answer["X-Request-ID"]) == (302, "this-request")
    entry = newest("downtime")
    assert (entry.actor, entry.request) == (f"login:{here.desk.pk}", "this-request")
    moved = newest("appointment")
    assert (moved.actor, moved.changes["step"]) == (entry.actor, ["booked", "displaced"])


def test_signing_in_is_an_entry_of_who_signs_in(here: World, client: Client) -> None:
    user = here.users[Role.MANAGER]
    user.set_password("right")
    user.save()
    client.post("/sign-in/", {"username": user.username, "password": "right"})
    entry = newest("user")
    assert (entry.key, entry.actor) == (user.pk, f"login:{user.pk}")
    assert set(entry.changes) == {"last_login"}


def test_what_nobody_writes_is_nobodys(here: World, client: Client) -> None:
    before = AuditEntry.objects.count()
    client.post("/sign-in/", {"username": "nobody", "password": "wrong"})
    assert AuditEntry.objects.count() == before
