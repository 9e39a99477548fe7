"""Texts of notices under Set-up: shown filled in first, refused by name, saved, dropped."""

from __future__ import annotations

import pytest
from django.test import Client

from sites.models import NoticeText, Role
from tests.sites.build import World

ADDRESS = "/set-up/texts/p-one/booked/"
TEXT = {"language": "", "heading": "Come: {programme}", "body": "Dear {name},\n\n{day} at {time}"}


@pytest.fixture
def chief(client: Client, here: World) -> Client:
    """An administrator who is signed in."""
    client.force_login(here.users[Role.ADMINISTRATOR])
    return client


def test_a_text_is_shown_filled_in_and_nothing_is_saved(chief: Client) -> None:
    page = chief.post(ADDRESS, {**TEXT, "do": "look"})
    text = page.content.decode()
    assert "Come: Programme one" in text
    assert "Dear Ilmi Tavoren," in text
    assert "Monday 16 March 2026 at 10:30" in text
    assert not NoticeText.objects.exists()


def test_htmx_gets_the_preview_alone(chief: Client) -> None:
    page = chief.post(ADDRESS, {**TEXT, "do": "look"}, headers={"HX-Request": "true"})
    assert "<html" not in page.content.decode()
    done = chief.post(ADDRESS, {**TEXT, "do": "save"}, headers={"HX-Request": "true"})
    assert done["HX-Redirect"] == "/set-up/texts/"


def test_a_text_is_saved_by_language_and_dropped_again(chief: Client) -> None:
    chief.post(ADDRESS, {**TEXT, "do": "save"})
    chief.post(ADDRESS, {**TEXT, "language": "de", "body": "Guten Tag {name}", "do": "save"})
    assert NoticeText.objects.count() == 2
    page = chief.get(ADDRESS + "?language=de").content.decode()
    assert "Guten Tag Ilmi Tavoren" in page
    listed = chief.get("/set-up/texts/").content.decode()
    assert ">every language</a>" in listed
    assert ">de</a>" in listed
    chief.post(ADDRESS + "?language=de", {**TEXT, "do": "drop"})
    assert NoticeText.objects.get().language == ""
    assert chief.post(ADDRESS + "?language=de", {**TEXT, "do": "drop"}).status_code == 404


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("body", "{nmae}", "{nmae} is not known here: use one of {name}"),
        ("body", "{name", "a brace stands alone"),
        ("heading", "For {name}", "{name} is not known in a subject line: use one of {programme}"),
        ("heading", "", "This field is required"),
        ("language", "german!", "german! is no language tag"),
    ],
)
def test_what_cannot_be_sent_is_said_at_its_field(
    chief: Client, field: str, value: str, words: str
) -> None:
    for do in ("look", "save"):
        page = chief.post(ADDRESS, {**TEXT, field: value, "do": do})
        assert words in page.content.decode()
        assert f'id="id_{field}_error"' in page.content.decode()
    assert not NoticeText.objects.exists()


def test_others_look_and_cannot_save(client: Client, here: World) -> None:
    client.force_login(here.users[Role.COORDINATOR])
    page = client.get(ADDRESS).content.decode()
    assert "An administrator changes these" in page
    assert client.post(ADDRESS, {**TEXT, "do": "save"}).status_code == 403
    assert client.get("/set-up/texts/p-one/hello/").status_code == 404
    assert client.get("/set-up/texts/p-two/booked/").status_code == 404
