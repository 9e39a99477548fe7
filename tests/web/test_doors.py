"""The doors: sign-in, waiting, staying signed in, passwords, and what comes from elsewhere."""

from __future__ import annotations

import re
from datetime import timedelta
from pathlib import Path
from time import time
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.contrib.sessions.models import Session
from django.test import Client

from planner.web.staying import BEGAN, SEEN
from sites.models import Role, User
from tests.sites.build import World
from tests.web.asks import ASKS, LETTERS, Ask

PASSWORD = "seven small stones"  # noqa: S105 - of this test only
NEXT = "eight grey herons here"
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def keyed(here: World) -> World:
    """Everybody has the same password."""
    for user in here.users.values():
        user.set_password(PASSWORD)
        user.save()
    return here


def sign_in(client: Client, name: str, password: str = PASSWORD, **more: Any) -> Any:
    """Send the form of the door."""
    form = {"username": name, "password": password, **more.pop("form", {})}
    return client.post("/sign-in/", form, **more)


def test_a_name_waits_after_too_many_wrong_passwords_and_says_what_helps(
    keyed: World, client: Client, settings: Any
) -> None:
    settings.AXES_FAILURE_LIMIT = 3
    for _ in range(2):
        assert "Not signed in" in sign_in(client, "manager", "wrong").text
    for password in ("wrong", PASSWORD):  # not even with the right one
        answer = sign_in(client, "manager", password)
        assert (answer.status_code, answer["Retry-After"]) == (429, "900")
        assert "ask an administrator" in answer.text
    assert "_auth_user_id" not in client.session
    assert sign_in(client, "coordinator").status_code == 302


def test_the_answer_does_not_say_whether_there_is_such_a_name(
    keyed: World, client: Client, settings: Any
) -> None:
    settings.AXES_FAILURE_LIMIT = 2
    bodies = []
    for name in ("manager", "no-such-name"):
        texts = [sign_in(client, name, "wrong").text for _ in range(2)]
        bodies.append([re.sub(r'value="[^"]*"', "", text) for text in texts])
    assert bodies[0] == bodies[1]


def test_tries_from_many_addresses_count_for_a_name(
    keyed: World, client: Client, settings: Any
) -> None:
    settings.AXES_FAILURE_LIMIT = 3
    codes = [
        sign_in(client, "manager", "wrong", REMOTE_ADDR=f"10.0.0.{n}").status_code for n in range(4)
    ]
    assert codes == [200, 200, 429, 429]


def test_an_address_that_tries_many_names_waits_and_an_office_does_not(
    keyed: World, client: Client, settings: Any
) -> None:
    """Five times the tries of a name: 14 from one address are borne, the 15th is not."""
    settings.AXES_FAILURE_LIMIT = 3
    codes = [sign_in(client, f"name-{n}", "wrong").status_code for n in range(15)]
    assert codes == [200] * 14 + [429]
    assert sign_in(client, "coordinator").status_code == 429
    assert sign_in(Client(), "coordinator", REMOTE_ADDR="10.0.0.9").status_code == 302


def test_waiting_ends_by_itself_and_trying_on_does_not_prolong_it(
    keyed: World, client: Client, settings: Any
) -> None:
    settings.AXES_FAILURE_LIMIT = 2
    for _ in range(2):
        sign_in(client, "manager", "wrong")
    past = AccessAttempt.objects.get().attempt_time - timedelta(minutes=14)
    AccessAttempt.objects.update(attempt_time=past)
    assert sign_in(client, "manager", "wrong").status_code == 429
    assert AccessAttempt.objects.get().attempt_time == past
    AccessAttempt.objects.update(attempt_time=past - timedelta(minutes=2))
    assert sign_in(client, "manager").status_code == 302


def test_a_right_password_forgets_the_wrong_ones_of_that_name_alone(
    keyed: World, client: Client, settings: Any
) -> None:
    settings.AXES_FAILURE_LIMIT = 3
    for name in ("manager", "manager", "auditor"):
        sign_in(client, name, "wrong")
    assert sign_in(client, "manager").status_code == 302
    assert [row.username for row in AccessAttempt.objects.all()] == ["auditor"]


def test_an_administrator_lets_somebody_in(keyed: World, client: Client, settings: Any) -> None:
    settings.AXES_FAILURE_LIMIT = 2
    for _ in range(2):
        sign_in(client, "manager", "wrong", REMOTE_ADDR="10.0.0.7")
    chief = Client()
    chief.force_login(keyed.users[Role.ADMINISTRATOR])
    page = chief.get("/set-up/locked/")
    assert [row.who for row in page.context["names"]] == ["manager"]
    assert "10.0.0.7" in page.text
    answer = chief.post("/set-up/locked/", {"username": "manager"}, follow=True)
    assert "manager can sign in again" in answer.text
    assert "No name has to wait" in answer.text
    assert sign_in(client, "manager").status_code == 302


def test_an_administrator_lets_an_address_in(keyed: World, client: Client, settings: Any) -> None:
    """An office that shares one address waits; names that are no login are counted, not shown."""
    settings.AXES_FAILURE_LIMIT = 2
    names = ["manager", *(f"typed-{n}" for n in range(9))]
    codes = [sign_in(client, name, "wrong", REMOTE_ADDR="10.0.0.7").status_code for name in names]
    assert codes == [200] * 9 + [429]
    assert sign_in(client, "coordinator", REMOTE_ADDR="10.0.0.7").status_code == 429
    chief = Client()
    chief.force_login(keyed.users[Role.ADMINISTRATOR])
    page = chief.get("/set-up/locked/")
    assert not page.context["names"]
    rows = page.context["addresses"]
    assert [(row.who, row.failures) for row in rows] == [("10.0.0.7", 10)]
    assert rows[0].others == ["manager", "9 that are no login"]
    assert "typed-" not in page.text
    answer = chief.post("/set-up/locked/", {"address": "10.0.0.7"}, follow=True)
    assert "Sign-ins from 10.0.0.7 are let in again" in answer.text
    assert "No address has to wait" in answer.text
    assert sign_in(client, "coordinator", REMOTE_ADDR="10.0.0.7").status_code == 302
    answer = chief.post("/set-up/locked/", {"address": "10.0.0.7"}, follow=True)
    assert "10.0.0.7 does not have to wait any more" in answer.text


def test_no_wrong_password_is_kept(keyed: World, client: Client) -> None:
    sign_in(client, "manager", "my-other-secret")
    row = AccessAttempt.objects.values().get()
    assert "my-other-secret" not in str(row)


def test_signing_in_gives_the_session_a_new_key(keyed: World, client: Client) -> None:
    """Session fixation: a key from before sign-in is worth nothing after it."""
    session = client.session
    session["planted"] = True
    session.save()
    before = session.session_key
    assert before
    client.cookies["sessionid"] = before
    sign_in(client, "manager")
    assert client.session.session_key != before
    assert not Session.objects.filter(session_key=before).exists()


@pytest.mark.parametrize(
    "where",
    ["https://elsewhere.invalid/", "//elsewhere.invalid/x", "javascript:alert(1)", "/\\evil"],
)
def test_next_leads_nowhere_else(keyed: World, where: str) -> None:
    answer = sign_in(Client(), "manager", form={"next": where})
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert sign_in(Client(), "manager", form={"next": "/care/"})["Location"] == "/care/"


def test_an_unknown_host_is_not_answered(here: World, client: Client) -> None:
    for name in ("elsewhere.invalid", "localhost.elsewhere.invalid"):
        answer = client.get("/sign-in/", headers={"host": name})
        assert answer.status_code == 400
        assert "PLATEN_HOSTS" in answer.text
        assert name not in answer.text


def test_an_idle_sign_in_ends(keyed: World, client: Client, settings: Any) -> None:
    sign_in(client, "manager")
    assert settings.SESSION_COOKIE_AGE == 3600
    assert client.cookies["sessionid"]["max-age"] == 3600
    row = Session.objects.get(session_key=client.session.session_key)
    row.expire_date -= timedelta(minutes=61)
    row.save()
    assert client.get("/requests/")["Location"] == "/sign-in/?next=/requests/"


def test_using_it_counts_the_idle_time_anew_but_not_on_every_page(
    keyed: World, client: Client
) -> None:
    sign_in(client, "manager")
    key = client.session.session_key
    first = Session.objects.get(session_key=key).expire_date
    assert "sessionid" not in client.get("/requests/").cookies
    assert Session.objects.get(session_key=key).expire_date == first
    aged(client, seen=400)
    assert client.get("/requests/").cookies["sessionid"]["max-age"] == 3600
    assert time() - client.session[SEEN] < 100


def test_a_sign_in_ends_after_a_working_day_however_busy(keyed: World, client: Client) -> None:
    sign_in(client, "manager")
    aged(client, began=12 * 3600 - 60)
    assert client.get("/requests/").status_code == 200
    aged(client, began=12 * 3600)
    assert client.get("/requests/")["Location"] == "/sign-in/?next=/requests/"
    assert not Session.objects.filter(session_key=client.session.session_key or "").exists()


def aged(client: Client, *, began: int = 0, seen: int = 0) -> None:
    """Set a session back by seconds."""
    session = client.session
    session[BEGAN] = int(time()) - began
    session[SEEN] = int(time()) - seen
    session.save()


def test_what_somebody_saw_stays_in_no_cache(keyed: World, client: Client) -> None:
    sign_in(client, "manager")
    assert "no-store" in client.get("/requests/")["Cache-Control"]
    assert "no-store" not in client.get("/static/planner/board.css").get("Cache-Control", "")


def change(client: Client, old: str, new: str) -> Any:
    """Send the form of one's own password."""
    form = {"old_password": old, "new_password1": new, "new_password2": new}
    return client.post("/own/password/", form, follow=True)


def test_a_new_password_signs_out_everywhere_else(keyed: World, client: Client) -> None:
    elsewhere = Client()
    for each in (client, elsewhere):
        sign_in(each, "technician")
    answer = change(client, PASSWORD, NEXT)
    assert "other sign-ins have ended" in answer.text
    assert client.get("/days/").status_code == 200
    assert elsewhere.get("/days/")["Location"] == "/sign-in/?next=/days/"
    assert sign_in(elsewhere, "technician", NEXT).status_code == 302


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("short but own", "at least 15 characters"),
        ("technician-techn", "too similar to the username"),
    ],
)
def test_a_weak_password_is_refused_with_the_reason(
    keyed: World, client: Client, password: str, words: str
) -> None:
    sign_in(client, "technician")
    answer = change(client, PASSWORD, password)
    assert words in answer.text
    assert User.objects.get(username="technician").check_password(PASSWORD)


def test_a_known_long_password_is_refused(keyed: World, client: Client) -> None:
    """One of the 20,000 that Django knows as common, of 15 signs or more."""
    known = next(each for each in sorted(CommonPasswordValidator().passwords) if len(each) >= 15)
    sign_in(client, "technician")
    assert "too common" in change(client, PASSWORD, known).text


def test_the_old_password_is_asked_for(keyed: World, client: Client) -> None:
    sign_in(client, "technician")
    assert "was entered incorrectly" in change(client, "wrong", NEXT).text
    assert User.objects.get(username="technician").check_password(PASSWORD)


WRITES = [ask for ask in ASKS if ask.method == "post"]


@pytest.mark.parametrize("ask", WRITES, ids=str)
def test_nothing_is_written_without_the_forms_token(here: World, ask: Ask) -> None:
    client = Client(enforce_csrf_checks=True)
    for letter in ask.may:
        client.force_login(here.users[LETTERS[letter]])
        answer = client.post(ask.path, ask.data)
        assert answer.status_code == 403
        assert "Open it again" in answer.text


def test_no_view_is_exempt_from_the_token() -> None:
    files = [*(ROOT / "planner").rglob("*.py"), *(ROOT / "sites").rglob("*.py")]
    assert len(files) > 200
    exempt = {file.relative_to(ROOT) for file in files if "csrf_exempt" in file.read_text("utf-8")}
    # The API asks for the token itself where a session signs in: tests/api/test_who.py.
    assert exempt == {Path("planner/api/at.py")}


def test_the_tables_are_behind_the_same_door(here: World, client: Client) -> None:
    answer = client.get("/admin/", follow=True)
    assert answer.redirect_chain[-1][0] == "/sign-in/?next=/admin/"
    for role in Role:
        client.force_login(here.users[role])
        found = client.get("/admin/", follow=True)
        assert found.status_code == (200 if role == Role.ADMINISTRATOR else 403), role
