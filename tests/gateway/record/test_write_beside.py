"""A plan that is written while somebody puts one of its people on hold."""

from __future__ import annotations

import threading

import pytest
from django.db import close_old_connections, connections, transaction

from planner.engine.booking import Options, plan
from planner.gateway.record import Written, read, write
from sites.models import Appointment, Hold
from sites.services.holds import requests_hold
from tests.sites.build import DAY, NOW, world


@pytest.mark.django_db(transaction=True)
def test_whoever_is_put_on_hold_meanwhile_is_not_booked_by_a_plan() -> None:
    """The write waits for whoever is faster, and then reads what they did."""
    here = world()
    away, other = here.request("away"), here.request("other")
    network = read(first_day=DAY, days=1)
    made = plan(network, Options(effort=1))
    assert len(made.bookings) == 2
    found: list[Written] = []

    def accept() -> None:
        close_old_connections()
        try:
            found.append(write(network, made, at=NOW))
        finally:
            connections.close_all()

    with transaction.atomic():
        requests_hold(requests=[away], why="asked to wait", by=here.desk, at=NOW)
        thread = threading.Thread(target=accept)
        thread.start()
        thread.join(timeout=1)
        assert thread.is_alive()
    thread.join(timeout=60)
    assert [each.id for each in found[0].changed] == ["away"]
    assert Hold.objects.filter(request=away, released_at=None).exists()
    assert list(Appointment.objects.values_list("request", flat=True)) == [other.pk]
