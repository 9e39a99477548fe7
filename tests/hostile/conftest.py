"""Installations to be hurt: the queue in SQLite, in PostgreSQL, and in RabbitMQ."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.hostile.house import House

KINDS = {
    "sqlite": {"postgres": False, "rabbit": False},
    "postgres": {"postgres": True, "rabbit": False},
    "rabbit": {"postgres": True, "rabbit": True},
}


class Houses:
    """One of each kind for the whole run; each test finds it with nobody at work."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.built = folder, dict[str, House]()

    def lend(self, kind: str) -> Iterator[House]:
        """One to use, tidied afterwards."""
        if kind not in self.built:
            self.built[kind] = House(self.folder / kind)
            self.built[kind].build(**KINDS[kind])
        house = self.built[kind]
        try:
            yield house
        finally:
            house.tidy()


@pytest.fixture(scope="session")
def houses() -> Iterator[Houses]:
    """Installations in a folder that servers of another user may enter."""
    with tempfile.TemporaryDirectory(prefix="platen-houses-", ignore_cleanup_errors=True) as name:
        folder = Path(name)
        folder.chmod(0o711)
        found = Houses(folder)
        try:
            yield found
        finally:
            for house in found.built.values():
                house.close()


@pytest.fixture(params=KINDS)
def house(request: pytest.FixtureRequest, houses: Houses) -> Iterator[House]:
    """Each kind of installation."""
    yield from houses.lend(request.param)


@pytest.fixture(params=["postgres", "rabbit"])
def served(request: pytest.FixtureRequest, houses: Houses) -> Iterator[House]:
    """Installations whose database is a server."""
    yield from houses.lend(request.param)


@pytest.fixture
def brokered(houses: Houses) -> Iterator[House]:
    """The installation with a broker."""
    yield from houses.lend("rabbit")
