"""The small world of the record's tests."""

from __future__ import annotations

import pytest

from tests.sites.build import World, world


@pytest.fixture
def here(db: None) -> World:
    """A small invented world."""
    return world()
