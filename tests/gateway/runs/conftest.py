"""The small world, committed: a run is watched from another thread."""

from __future__ import annotations

import pytest

from tests.sites.build import World, world


@pytest.fixture
def here(transactional_db: None) -> World:
    """A small invented world."""
    return world()
