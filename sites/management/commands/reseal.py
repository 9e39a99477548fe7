"""``manage.py reseal``: what an older contact key sealed is sealed with the newest one."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError
from django.db.models import Model

from sites.crypto import contact_keys
from sites.errors import RecordError
from sites.management.commands.purge_personal_data import whole
from sites.services.reseal import Seen, sealed_tables, seals_renew, seals_seen

DONE = (
    "nothing in the record needs an older key. Backups may: an older key can go from "
    "PLATEN_CONTACT_KEYS once every server and worker writes with the newest one and no backup "
    "that you would restore was made before this."
)


class Command(BaseCommand):
    """Without ``--apply`` it only says what it would do; exit 1 where no key opens a text."""

    help = "Seals anew, with the newest of PLATEN_CONTACT_KEYS, what older keys have sealed"

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whether to do it, and how many rows at once."""
        parser.add_argument("--apply", action="store_true", help="do it (else: only say what)")
        parser.add_argument(
            "--batch", type=whole, default=500, help="rows in one transaction (default 500)"
        )

    def handle(self, *_: Any, apply: bool, batch: int, **__: Any) -> None:
        """Table by table, batch by batch; each stays done."""
        try:
            keys = len(contact_keys())
            total = Seen()
            for model, columns in sealed_tables():
                found = self.table(model, columns, apply, batch)
                total += found
                done = "sealed anew" if apply else "to seal anew"
                name = model._meta.verbose_name_plural
                self.stdout.write(
                    f"  {name}: {found.older:,} texts {done}, {found.newest:,} as they should be"
                )
                if found.strange:
                    self.stdout.write(
                        f"    {found.strange:,} that no key opens, the first in row {found.first}"
                    )
        except ImproperlyConfigured as error:
            raise CommandError(f"{error}", returncode=2) from error
        except RecordError as error:
            raise CommandError(f"{error}; start it again, it goes on where it was") from error
        if total.strange:
            raise CommandError(
                f"{total.strange:,} texts were sealed with a key that is not among the {keys} of "
                "PLATEN_CONTACT_KEYS: put it back at the end of the list, and start again"
            )
        if total.older and not apply:
            self.stdout.write(f"nothing was changed; --apply seals {total.older:,} texts anew")
        else:
            self.stdout.write(DONE)

    def table(self, model: type[Model], columns: tuple[str, ...], apply: bool, batch: int) -> Seen:
        """All rows of a table."""
        look = seals_renew if apply else seals_seen
        found, after = Seen(), 0
        while True:
            part = look(model=model, columns=columns, after=after, most=batch)
            found += part
            if part.last is None:
                return found
            after = part.last
            if sys.stderr.isatty():
                self.stderr.write(f"  row {after:,}", ending="\r")
