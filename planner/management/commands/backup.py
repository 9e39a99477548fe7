"""``manage.py backup``: a copy of the record, made while it is in use."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.gateway.backup import make
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from django.core.management.base import CommandParser


class Command(PlatenCommand):
    """``backup TARGET``: a folder that is there whole, or not at all."""

    help = "Backs the record up into a new folder; safe while it is in use. Keys are not in it."

    def add_arguments(self, parser: CommandParser) -> None:
        """The folder."""
        parser.add_argument("target", metavar="TARGET", type=Path, help="a folder to be made")

    def run(self, **options: Any) -> int:
        """Make it, and say what is in it and what is not."""
        made = make(options["target"])
        rows = sum(made.rows.values())
        self.stdout.write(
            f"{options['target']}: {made.engine}, {len(made.rows)} tables, {rows:,} rows, "
            f"{made.size / 1e6:.1f} MB, SHA-256 {made.sha256}"
        )
        self.stdout.write(
            "Names and contact data are in it sealed. The keys are not: keep them elsewhere."
        )
        return 0
