"""``manage.py check_record``: prove that the record is whole, or say what is off."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from itertools import islice
from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection, transaction

from sites.check.all import CHECKS


class Command(BaseCommand):
    """Run every check on one view of the data; exit 1 where anything is off."""

    help = "Checks that the record is whole and reports anything off"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take how many findings of each check are printed."""
        parser.add_argument(
            "--most", type=int, default=20, help="findings printed of each check (default 20)"
        )

    def handle(self, *_: Any, most: int, **__: Any) -> None:
        """Run the checks."""
        off = 0
        with transaction.atomic():
            if connection.vendor == "postgresql" and len(connection.savepoint_ids) == 0:
                with connection.cursor() as cursor:
                    cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            for name, check in CHECKS.items():
                findings = check()
                shown = list(islice(findings, most))
                more = sum(1 for _ in findings)
                off += len(shown) + more
                self.stdout.write(f"{'ok ' if not shown else 'OFF'}  {name}")
                for finding in shown:
                    self.stdout.write(f"     {finding}")
                if more:
                    self.stdout.write(f"     and {more} more")
        self.stdout.write("the record is whole" if not off else f"{off} findings")
        if off:
            sys.exit(1)
