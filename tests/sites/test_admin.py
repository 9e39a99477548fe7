"""The admin shows every model, and lets nobody write past the services."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.contrib import admin
from django.db import models
from django.test import Client
from django.urls import reverse

from sites.admin import WRITTEN_BY_SERVICES
from sites.models import Downtime, Role, User
from tests.sites.build import World

MODELS = list(apps.get_app_config("record").get_models())


def page(model: type[models.Model], what: str, *args: object) -> str:
    """The address of an admin page."""
    return reverse(f"admin:record_{model._meta.model_name}_{what}", args=args)


@pytest.fixture
def chief(client: Client) -> Client:
    """Somebody who may do everything."""
    client.force_login(User.objects.create_superuser("chief"))
    return client


def test_every_model_is_there() -> None:
    assert {model for model in MODELS if not admin.site.is_registered(model)} == set()


@pytest.mark.parametrize("model", MODELS)
def test_lists_open(here: World, chief: Client, model: type[models.Model]) -> None:
    here.session(here.request("r-1"))
    assert chief.get(page(model, "changelist")).status_code == 200
    expected = 403 if model in WRITTEN_BY_SERVICES else 200
    assert chief.get(page(model, "add")).status_code == expected
    row = model._default_manager.first()
    if row is not None:
        assert chief.get(page(model, "change", row.pk)).status_code == 200


def test_a_technician_and_a_stranger_are_turned_away(here: World, client: Client) -> None:
    assert client.get(page(Downtime, "changelist")).status_code == 302
    client.force_login(here.users[Role.TECHNICIAN])
    assert client.get(page(Downtime, "changelist")).status_code == 302


def test_a_downtime_in_the_way_of_a_booking_says_so(here: World, chief: Client) -> None:
    booked = here.book(here.request("r-1"), 600)
    form = {
        "station": here.stations[0].pk,
        "day": "2026-03-02",
        "minute": 590,
        "minutes": 30,
        "reason": "lamp",
    }
    answer = chief.post(page(Downtime, "add"), form)
    assert f"taken by appointment {booked.pk}" in answer.content.decode()
    assert not Downtime.objects.exists()
    chief.post(page(Downtime, "add"), form | {"minute": 620})
    assert Downtime.objects.get().starts_at.hour == 9  # 10:20 in Vienna in winter
