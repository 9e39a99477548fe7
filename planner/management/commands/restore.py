"""``manage.py restore``: a backup into the record's place."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.gateway.backup import put_back
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from django.core.management.base import CommandParser


class Command(PlatenCommand):
    """``restore SOURCE``: whole, or not at all; what was there is kept beside."""

    help = "Puts a backup back; refused where there is a record, unless --replace is given."

    def add_arguments(self, parser: CommandParser) -> None:
        """The folder, and leave to take a record's place."""
        parser.add_argument("source", metavar="SOURCE", type=Path, help="a folder that backup made")
        parser.add_argument(
            "--replace",
            action="store_true",
            help="take the place of the record that is there; it is kept beside",
        )

    def run(self, **options: Any) -> int:
        """Put it back, and say what to do next."""
        done = put_back(options["source"], replace=options["replace"])
        rows = sum(done.manifest.rows.values())
        self.stdout.write(f"restored: {rows:,} rows of {done.manifest.made_at:%Y-%m-%d %H:%M} UTC")
        if done.aside:
            self.stdout.write(f"what was there is kept as {done.aside}")
        if not done.opens:
            self.say(
                "the keys of this machine do not open its names and contact data: set "
                "PLATEN_CONTACT_KEYS to the keys of the machine that it comes from"
            )
        self.stdout.write("now run manage.py check_record")
        return 0 if done.opens else 1
