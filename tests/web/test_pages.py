"""Every page: opens for who is signed in, sends others to the door, and carries its caution."""

from __future__ import annotations

from html import unescape
from typing import Any

import pytest
from django.test import Client

from sites.models import Role, Site, User
from tests.sites.build import World
from tests.web.pages import CAUTIONS, COMES_FIRST, PAGES, ROLES


@pytest.mark.parametrize("page", PAGES)
def test_the_page_carries_its_caution(here: World, client: Client, page: str) -> None:
    client.force_login(here.users[ROLES.get(page, Role.COORDINATOR)])
    answer = client.get(page)
    assert answer.status_code == 200
    text = unescape(" ".join(answer.content.decode().split()))
    for words in CAUTIONS[page]:
        assert words in text
    assert COMES_FIRST in text


@pytest.mark.parametrize("page", PAGES)
def test_no_page_needs_an_inline_script_or_style(here: World, client: Client, page: str) -> None:
    client.force_login(here.users[ROLES.get(page, Role.COORDINATOR)])
    answer = client.get(page)
    text = answer.content.decode()
    assert "style=" not in text.replace('name="viewport"', "")
    assert "<style" not in text
    assert "<script>" not in text
    assert "onclick" not in text
    policy = answer["Content-Security-Policy"]
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "unsafe" not in policy


def test_a_site_whose_holidays_nobody_knows_is_a_sentence_on_every_page(
    here: World, client: Client
) -> None:
    """Pages that need its days name site and remedy; the others do without. None breaks."""
    Site.objects.update(holiday_country="XX")
    words = "public holidays of site site-1"
    told = set()
    for page in PAGES:
        client.force_login(here.users[ROLES.get(page, Role.COORDINATOR)])
        answer = client.get(page)
        if words in answer.text:
            told.add(page)
            assert "use an ISO 3166-1 code" in answer.text
        assert answer.status_code == 200 or (answer.status_code == 409 and page in told), page
    assert {"/requests/free/offers/", "/capacity/", "/capacity/outlook/"} <= told


@pytest.mark.parametrize(
    ("role", "place"),
    [
        (Role.COORDINATOR, "/requests/"),
        (Role.SITE_LEAD, "/days/"),
        (Role.MANAGER, "/capacity/"),
        (Role.TECHNICIAN, "/days/"),
        (Role.AUDITOR, "/capacity/"),
        (Role.ADMINISTRATOR, "/set-up/"),
    ],
)
def test_each_role_starts_at_its_place(here: World, client: Client, role: Role, place: str) -> None:
    client.force_login(here.users[role])
    assert client.get("/")["Location"] == place


def test_a_login_opens_and_a_wrong_password_says_so(here: World, client: Client) -> None:
    user = here.users[Role.COORDINATOR]
    user.set_password("right")
    user.save()
    wrong = client.post("/sign-in/", {"username": user.username, "password": "wrong"})
    assert "Not signed in" in wrong.content.decode()
    right = client.post("/sign-in/", {"username": user.username, "password": "right"})
    assert right.status_code == 302
    assert client.get("/requests/").status_code == 200
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/requests/").status_code == 302


def test_what_a_role_may_not_do_is_said_and_not_offered(here: World, client: Client) -> None:
    client.force_login(here.users[Role.TECHNICIAN])
    answer = client.get("/care/site-1/window/")
    assert (
        "Setting care or a downtime is for a coordinator, a site lead, a manager or an "
        "administrator." in answer.content.decode()
    )
    assert "Set a care window" not in client.get("/care/site-1/").content.decode()
    assert "/capacity/" not in client.get("/days/").content.decode()


def test_an_unknown_page_is_ours(desk: Client) -> None:
    for page in ("/nowhere/", "/requests/nobody/", "/days/site-1/soon/", "/days/?from=x"):
        answer = desk.get(page)
        assert answer.status_code == 404
        assert "No such page" in answer.content.decode()


def test_an_error_shows_our_page_and_not_its_inside(here: World, client: Client) -> None:
    """A zone that does not exist is refused by name; what nobody foresaw is a plain page."""
    client.force_login(here.users[Role.COORDINATOR])
    here.site.timezone = "Nowhere/Atall"
    here.site.save()
    answer = client.get("/days/site-1/2026-03-02/")
    assert answer.status_code == 409
    assert "is no time zone" in answer.content.decode()


def test_an_unforeseen_fault_is_a_plain_page(desk: Client, settings: Any) -> None:
    desk.raise_request_exception = False
    settings.ROOT_URLCONF = "tests.web.broken"
    answer = desk.get("/broken/")
    assert answer.status_code == 500
    text = answer.content.decode()
    assert "Our fault" in text
    assert "ZeroDivisionError" not in text


def test_a_form_from_elsewhere_is_refused(here: World) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(here.users[Role.COORDINATOR])
    answer = client.post("/care/site-1/downtime/", {})
    assert answer.status_code == 403
    assert "Open it again" in answer.content.decode()


def test_health_says_ok_to_everybody(db: None, client: Client) -> None:
    answer = client.get("/health/")
    assert (answer.status_code, answer.content) == (200, b"record: ok\n")


def test_an_empty_record_says_what_would_fill_it(db: None, client: Client) -> None:
    client.force_login(User.objects.create(username="new", role=Role.MANAGER))
    for page in ("/requests/", "/days/", "/care/", "/capacity/", "/capacity/outlook/"):
        answer = client.get(page)
        assert answer.status_code == 200
        assert "Set-up" in answer.content.decode().split("<main", 1)[1]


def test_administrators_find_the_tables_and_others_whom_to_ask(here: World, client: Client) -> None:
    client.force_login(here.users[Role.MANAGER])
    assert "/admin/record/" not in client.get("/set-up/").content.decode()
    client.force_login(User.objects.create_superuser("chief"))
    assert "/admin/record/carerule/" in client.get("/set-up/").content.decode()
    assert client.get("/admin/record/carerule/").status_code == 200
