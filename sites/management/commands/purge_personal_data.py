"""``manage.py purge_personal_data``: take away what is known of people once its time is over."""

from __future__ import annotations

from argparse import ArgumentParser, ArgumentTypeError
from datetime import date
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from sites.errors import RecordError
from sites.models import Programme, ProgrammeVersion
from sites.selectors.retention import by_programme, subjects_due, subjects_held
from sites.selectors.typed import references_count, typed_count
from sites.services.api_calls import api_calls_forget, api_calls_old
from sites.services.intakes import intakes_forget, intakes_old
from sites.services.purge import purge_batch, purge_begin, purge_end

CAUTION = (
    "How long personal data stay, and whether some have to stay longer (a complaint, a court, a "
    "retention duty), is for the programme's policy and the law to say; 365 days is a default of "
    "ours. What is taken away here is still in backups until these are replaced."
)


class Command(BaseCommand):
    """Without ``--apply`` it says what it would do and changes nothing."""

    help = (
        "Takes names, contact data, language, needs and what was typed about people away by their "
        "programmes' rule"
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Whether to do it, and how many people at once."""
        parser.add_argument("--apply", action="store_true", help="do it (else: only say what)")
        parser.add_argument(
            "--batch", type=whole, default=500, help="people in one transaction (default 500)"
        )
        parser.add_argument(
            "--as-of",
            type=day,
            metavar="DATE",
            help="ask the rule for an earlier day than today (any day for invented data)",
        )

    def handle(self, *_: Any, apply: bool, batch: int, **options: Any) -> None:
        """Say what is due; take it away if asked to."""
        today = timezone.now().date()
        as_of = options["as_of"] or today
        if as_of > today and not settings.DEMO:
            raise CommandError(
                f"--as-of {as_of} is in the future: data would go before their time", returncode=2
            )
        held = subjects_held(today=as_of)
        self.stdout.write(f"personal data as of {as_of}, by each programme's rule:")
        due = by_programme(subjects_due(today=as_of).values("pk"))
        for programme in Programme.objects.order_by("code"):
            self.stdout.write(
                f"  {programme.code}: {due.get(programme.code, 0):,} people to purge; "
                f"kept after the end for {rules(programme)}"
            )
        self.stdout.write(
            f"  kept: {held.open:,} with an open request, {held.recent:,} within their days"
        )
        if held.lapsed:
            self.stdout.write(
                f"  of the open ones {held.lapsed:,} have nothing but expired requests: close "
                "these, or their data stay for ever"
            )
        if held.without:
            self.stdout.write(
                f"  {held.without:,} people have no request that a time could begin with: they "
                "stay; remove them by hand if nothing will come of them"
            )
        keys = subjects_due(today=as_of).order_by().values("pk")
        self.stdout.write(
            f"  with them go {typed_count(keys):,} texts that were typed about them, and "
            f"{references_count(keys):,} references of programmes that say so"
        )
        now = timezone.now()
        self.stdout.write(
            f"  kept for more than a day: {intakes_old(at=now).count():,} lists of candidates and "
            f"{api_calls_old(at=now).count():,} answers to programs, which go as well"
        )
        self.stdout.write(CAUTION)
        if not apply:
            self.stdout.write(f"nothing was changed; --apply purges {held.due:,} people")
            return
        try:
            if left := intakes_forget(at=now):
                self.stdout.write(f"left {left:,} lists of candidates that had waited for a day")
            if forgotten := api_calls_forget(at=now):
                self.stdout.write(f"forgot {forgotten:,} answers to programs")
            self.purge(as_of, batch)
        except RecordError as error:
            raise CommandError(f"{error}; start it again, it goes on where it was") from error

    def purge(self, as_of: date, batch: int) -> None:
        """Batch after batch, each on its own; what was done stays done."""
        purge = purge_begin(as_of=as_of)
        if purge.subjects:
            self.stderr.write(f"going on after {purge.subjects:,} people of a run cut short")
        done, after = 0, 0
        while True:
            taken, last = purge_batch(purge=purge, after=after, most=batch)
            if last is None:
                break
            done, after = done + taken, last
            self.stderr.write(f"  {done:,} people")
        purge = purge_end(purge=purge)
        parts = ", ".join(f"{code} {count:,}" for code, count in sorted(purge.programmes.items()))
        self.stdout.write(
            f"purged {purge.subjects:,} people{f' ({parts})' if parts else ''}, {purge.texts:,} "
            f"texts about them and {purge.references:,} references; requests, sessions and figures "
            f"are as before. Kept as purge {purge.pk} of the record."
        )


def rules(programme: Programme) -> str:
    """The days of a programme's versions, in words."""
    rows = ProgrammeVersion.objects.filter(programme=programme).order_by("starts_on")
    days = [
        f"{row.retention_days} days (from {row.starts_on}"
        f"{', references go too' if row.retention_references else ''})"
        for row in rows
    ]
    return ", ".join(days) or "no time: it has no terms"


def day(text: str) -> date:
    """A date of the command line."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ArgumentTypeError(f"{text!r} is no date: write it as 2027-03-09") from None


def whole(text: str) -> int:
    """A number of people above 0."""
    if not text.isdigit() or not 0 < int(text) <= 10_000:
        raise ArgumentTypeError(f"{text!r} is no number from 1 to 10000")
    return int(text)
