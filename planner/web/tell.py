"""Saying what the waiting list did after a place came free."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest

from planner.engine.errors import PlatenError
from planner.gateway.offers.waiting import freed
from planner.web.now import now
from sites.errors import RecordError
from sites.models import Appointment


def said_of(served: list[Any]) -> list[str]:
    """What the list did, as sentences."""
    return [f"{each}."[0].upper() + f"{each}."[1:] for each in served]


def tell_waiting(request: HttpRequest, gone: Appointment) -> None:
    """After a place came free: put it to who waits, and say so.

    What was given back stays given back, whatever comes of this.
    """
    try:
        served = freed(gone, now=now())
    except (RecordError, PlatenError) as error:
        messages.warning(request, f"The waiting list was not asked: {error}.")
        return
    for line in said_of(served):
        messages.success(request, line)
