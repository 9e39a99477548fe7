"""``manage.py export_network``: the record as a network file."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.engine.codec import encode_network
from planner.engine.units import parse_date
from planner.gateway.files import write_whole
from planner.gateway.record import read
from planner.management.base import PlatenCommand

if TYPE_CHECKING:
    from django.core.management.base import CommandParser

MOST_DAYS = 366


class Command(PlatenCommand):
    """``export_network FILE --first-day DATE --days N [--site CODE …]``."""

    help = "Write what the record says of some days as a network file, ready to plan."

    def add_arguments(self, parser: CommandParser) -> None:
        """The file, the horizon, the sites."""
        parser.add_argument("file", metavar="FILE", type=Path, help="the network file to write")
        parser.add_argument("--first-day", type=day, required=True, help="YYYY-MM-DD")
        parser.add_argument("--days", type=days, required=True, help=f"1 to {MOST_DAYS}")
        parser.add_argument(
            "--site", action="append", metavar="CODE", help="only this site; may be repeated"
        )

    def run(self, **options: Any) -> int:
        """Read, write, tell."""
        network = read(first_day=options["first_day"], days=options["days"], sites=options["site"])
        write_whole(options["file"], encode_network(network))
        self.stdout.write(
            f"{len(network.sites)} sites, {len(network.requests)} requests, "
            f"{len(network.appointments)} of them booked, {len(network.care)} care: "
            f"{options['file']}"
        )
        return 0


def day(text: str) -> date:
    """A date."""
    try:
        return parse_date(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2027-01-11") from None


def days(text: str) -> int:
    """A number of days."""
    if text.isascii() and text.isdigit() and len(text) < 4 and 1 <= int(text) <= MOST_DAYS:
        return int(text)
    raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to {MOST_DAYS}")
