"""``manage.py import_network``: a network file into the record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.gateway.files import read_network
from planner.gateway.record import store
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from django.core.management.base import CommandParser


class Command(PlatenCommand):
    """``import_network FILE``: all of it, or nothing and every reason why."""

    help = "Bring a network file into the record; refused where an id is in the record already."

    def add_arguments(self, parser: CommandParser) -> None:
        """The file."""
        parser.add_argument("file", metavar="FILE", type=Path, help="a network file")

    def run(self, **options: Any) -> int:
        """Read, store, tell."""
        stored = store(read_network(options["file"]))
        self.stdout.write(
            f"programme {stored.programme}: {stored.sites} sites, {stored.stations} stations, "
            f"{stored.technicians} technicians, {stored.requests} requests, {stored.care} care, "
            f"{stored.appointments} appointments"
        )
        return 0
