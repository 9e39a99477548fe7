"""A site at work, a signed-in person for each role, and a clock that stands still."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from sites.models import Role
from tests.sites.build import World
from tests.web.lived import NOW, lived


@pytest.fixture(autouse=True)
def held(settings: Any) -> None:
    """The pages take `NOW` for the present."""
    settings.NOW = NOW


@pytest.fixture
def here(db: None) -> World:
    """A site at work."""
    return lived()


@pytest.fixture
def desk(client: Client, here: World) -> Client:
    """A coordinator who is signed in."""
    client.force_login(here.users[Role.COORDINATOR])
    return client
