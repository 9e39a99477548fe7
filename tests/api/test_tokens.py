"""Tokens: kept as hashes, expiring, revoked at once, and no more than their owner."""

from __future__ import annotations

from datetime import timedelta
from io import StringIO
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.utils import timezone

from sites.errors import BadValue, ChangedMeanwhile
from sites.models import ApiToken, AuditEntry, Role
from sites.selectors.api_tokens import api_token_of
from sites.services.api_tokens import api_token_make, api_token_revoke, api_token_seen
from tests.api.calls import API, Caller, problem
from tests.api.operations import ROWS
from tests.sites.build import World


def test_a_secret_is_kept_nowhere(here: World) -> None:
    _, secret = api_token_make(owner=here.desk, name="x", days=1)
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM record_apitoken")
        kept = str(cursor.fetchall())
    assert secret not in kept
    assert secret.removeprefix("platen_") not in kept
    assert len(secret) > 43  # 256 bits in base 64


def test_a_token_opens_until_it_expires(here: World) -> None:
    now = timezone.now()
    _, secret = api_token_make(owner=here.desk, name="x", days=2, at=now)
    end = now + timedelta(days=2)
    assert api_token_of(secret=secret, at=end - timedelta(seconds=1)) is not None
    assert api_token_of(secret=secret, at=end) is None
    assert api_token_of(secret=secret + "x", at=now) is None


def test_a_token_ends_with_the_key_that_hashed_it(here: World, settings: Any) -> None:
    _, secret = api_token_make(owner=here.desk, name="x", days=2)
    settings.SECRET_KEY = "another"  # noqa: S105 - of no value
    assert api_token_of(secret=secret, at=timezone.now()) is None


def test_a_token_ends_with_its_owner(desk: Caller, here: World) -> None:
    assert desk.get("me/").status_code == 200
    here.desk.is_active = False
    here.desk.save()
    problem(desk.get("me/"), 401, "not_signed_in")


def test_a_token_may_what_its_owner_may_at_that_time(desk: Caller, here: World) -> None:
    assert "intake.change" in desk.get("me/").json()["may"]
    here.desk.role = Role.TECHNICIAN
    here.desk.save()
    assert "intake.change" not in desk.get("me/").json()["may"]


def test_a_token_that_only_reads_changes_nothing(here: World) -> None:
    reader = Caller(here.desk, reads_only=True)
    assert reader.get("requests/").status_code == 200
    found = problem(reader.post("people/find/", {"words": "x"}), 403, "not_allowed")
    assert "only reads" in found["detail"]
    problem(reader.delete(f"tokens/{reader.token.code}/"), 403, "not_allowed")


def test_a_session_makes_a_token_and_a_token_makes_none(desk: Caller, here: World) -> None:
    problem(desk.post("tokens/", {"name": "y", "days": 1}), 403, "not_allowed")
    client = Client()
    client.force_login(here.desk)
    made = client.post(
        f"{API}tokens/", {"name": "nightly", "days": 30}, content_type="application/json"
    )
    assert made.status_code == 201
    assert made["Cache-Control"] == "no-store"
    secret = made.json()["secret"]
    signed = {"Authorization": f"Bearer {secret}"}
    assert Client().get(f"{API}me/", headers=signed).json()["login"] == here.desk.username
    listed = desk.get("tokens/").json()["results"]
    assert {each["name"] for each in listed} == {"tests", "nightly"}
    assert secret not in str(listed)


def test_a_token_is_revoked_at_once_and_again(desk: Caller, colleague: Caller) -> None:
    other, secret = api_token_make(owner=desk.user, name="leaked", days=1)  # type: ignore[arg-type]
    signed = {"Authorization": f"Bearer {secret}"}
    assert Client().get(f"{API}me/", headers=signed).status_code == 200
    problem(colleague.delete(f"tokens/{other.code}/"), 404, "not_found")
    for _ in range(2):
        assert desk.delete(f"tokens/{other.code}/").status_code == 204
    problem(Client().get(f"{API}me/", headers=signed), 401, "not_signed_in")
    with pytest.raises(ChangedMeanwhile):
        api_token_revoke(token=other)


def test_the_last_use_is_kept_to_the_hour(here: World) -> None:
    token, _ = api_token_make(owner=here.desk, name="x", days=1)
    now = timezone.now()
    seen = []
    for minutes in (0, 59, 60):
        api_token_seen(token=token, at=now + timedelta(minutes=minutes))
        token.refresh_from_db()
        seen.append(token.seen_at)
    assert seen == [now, now, now + timedelta(hours=1)]


def test_what_is_no_token(here: World) -> None:
    for name, days in ((" ", 1), ("x", 0), ("x", 367)):
        with pytest.raises(BadValue):
            api_token_make(owner=here.desk, name=name, days=days)


def run(*arguments: str) -> tuple[int, str, str]:
    """Exit code and both outputs of the command."""
    out, err = StringIO(), StringIO()
    try:
        call_command("api_token", *arguments, stdout=out, stderr=err)
    except SystemExit as done:
        return int(done.code or 0), out.getvalue(), err.getvalue()
    return 0, out.getvalue(), err.getvalue()


def test_the_command_makes_lists_and_revokes(here: World) -> None:
    status, secret, said = run("make", here.desk.username, "--name", "nightly", "--reads-only")
    assert status == 0
    token = api_token_of(secret=secret.strip(), at=timezone.now())
    assert token is not None
    assert token.reads_only
    assert token.code in said
    listed = run("list", here.desk.username)[1]
    assert f"{token.code}  until" in listed
    assert "reads only  nightly" in listed
    assert secret.strip() not in listed
    assert run("revoke", token.code)[0] == 0
    assert "revoked" in run("list", here.desk.username)[1]
    status, _, said = run("revoke", token.code)
    assert (status, "revoked already" in said) == (2, True)
    assert ApiToken.objects.count() == 1


def test_the_command_says_what_makes_no_sense(here: World) -> None:
    for arguments in (
        ("make", "nobody", "--name", "x"),
        ("make", here.desk.username, "--name", "x", "--days", "999"),
        ("list", "nobody"),
        ("revoke", "k-none"),
    ):
        status, out, said = run(*arguments)
        assert (status, out) == (2, "")
        assert ";" in said


def test_the_audit_names_whose_token_it_was(desk: Caller, here: World) -> None:
    answer = desk.post("requests/", ROWS["request_receive"].body, x_request_id="call-12345678")
    assert answer["X-Request-ID"] == "call-12345678"
    entry = AuditEntry.objects.filter(noun="request").latest("pk")
    assert entry.actor == f"login:{here.desk.pk}"
    assert entry.request == "call-12345678"
