"""Notices of a record that sent no messages yet: nobody is told twice, and nobody is forgotten."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path

from django.apps import apps

from sites import migrations
from sites.models import Notice
from sites.outbox import send_due
from tests.sites.build import World
from tests.sites.told import BEFORE, booked, moved


def test_what_was_raised_before_is_left_to_a_person_and_knows_its_appointment(here: World) -> None:
    first, second = booked(here, "r-1", 600), booked(here, "r-2", 640)
    moved(here, second, 660)
    Notice.objects.update(appointment=None)
    Notice.objects.filter(request=first.request).update(told_at=BEFORE)
    (name,) = [path.stem for path in Path(migrations.__path__[0]).glob("*_old_notices.py")]
    import_module(f"sites.migrations.{name}").settle(apps, None)
    assert list(Notice.objects.order_by("pk").values_list("state", "appointment")) == [
        ("told", first.pk),
        ("phone", second.pk),
        ("phone", second.pk),
    ]
    assert "sent" not in send_due()
