"""A site at work, the people who call, and clients that sign in by token."""

from __future__ import annotations

from typing import Any

import pytest

from sites.models import ResponseKind, Role, Site, User
from sites.services.holds import requests_hold
from sites.services.submissions import response_read
from tests.api.calls import Caller
from tests.sites.build import World
from tests.web.lived import NOW, answered, lived, submitted

FAST = {"read": "100000/min", "write": "100000/min", "heavy": "100000/min"}


@pytest.fixture(autouse=True)
def held(settings: Any) -> None:
    """The API takes `NOW` for the present, and counts no calls but where a test says so."""
    settings.NOW = NOW
    settings.API_RATES = FAST


@pytest.fixture
def here(db: None) -> World:
    """A site at work, a return whose subject was not contacted, and a request on hold."""
    found = lived()
    back = answered(submitted(found, "back-read", 830), ResponseKind.IMAGE, 3)
    response_read(response=back, by=found.desk, at=NOW)
    requests_hold(requests=[found.request("held")], why="is away", by=found.desk, at=NOW)
    return found


@pytest.fixture
def desk(here: World) -> Caller:
    """A coordinator of the site."""
    return Caller(here.users[Role.COORDINATOR])


@pytest.fixture
def colleague(here: World) -> Caller:
    """A coordinator of another site."""
    there = Site.objects.create(code="site-2", name="Site 2", timezone="Europe/Vienna")
    user = User.objects.create(username="colleague", role=Role.COORDINATOR)
    user.covers.add(there)
    return Caller(user)
