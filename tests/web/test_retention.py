"""The figures of the pages are the same before and after a purge."""

from __future__ import annotations

from typing import Any

from django.core.management import call_command
from django.test import Client

from sites.models import Purge, Subject
from tests.sites.build import DAY, World

PAGES = (
    "/capacity/",
    "/capacity/?days=180",
    "/capacity/outlook/",
    "/requests/?standing=all",
    "/days/",
    "/care/",
)
CALM = ("csrfmiddlewaretoken",)


def seen(client: Client) -> dict[str, list[str]]:
    """The lines of the pages, without what is new each time."""
    return {
        page: [
            line
            for line in client.get(page).content.decode().splitlines()
            if not any(word in line for word in CALM)
        ]
        for page in PAGES
    }


def test_figures_are_as_before(desk: Client, here: World, settings: Any, capsys: Any) -> None:
    """The programme's days are set to 1, so that every accepted request's person is due."""
    for subject in Subject.objects.all():
        subject.family_name, subject.phone, subject.needs_longer = "Tavoren", "1", True
        subject.save()
    here.programme.versions.update(retention_days=1)
    before = seen(desk)
    call_command("purge_personal_data", "--apply", "--as-of", f"{DAY}")
    assert Purge.objects.get().subjects == 6
    assert Subject.objects.exclude(phone_key="").count() == Subject.objects.count() - 6
    assert seen(desk) == before
    text = desk.get("/requests/past-0/").content.decode()
    assert "not in the record, or no longer" in text
    assert "Tavoren" not in text
