"""``manage.py serve_waiting``: free times are put to who waits for one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.conf import settings
from django.utils import timezone

from planner.engine.errors import Fault, FileRefused
from planner.gateway.offers.waiting import serve_waiting
from planner.management.base import PlatenCommand
from sites.models import Site, Waiting
from sites.selectors.hours import public_holidays

if TYPE_CHECKING:
    from django.core.management.base import CommandParser


class Command(PlatenCommand):
    """``serve_waiting [--site CODE …]``; for after hours, shifts or stations were added."""

    help = (
        "Put the times that are free now to the requests on the waiting list: the least slack "
        "first, then who has waited longest. A coordinator confirms, but where the programme "
        "books who is next without asking. A second call does nothing unless more came free."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """The sites."""
        parser.add_argument(
            "--site", action="append", metavar="CODE", help="only this site; may be repeated"
        )

    def run(self, **options: Any) -> int:
        """Look, put, tell."""
        sites = Site.objects.order_by("code")
        if options["site"]:
            sites = sites.filter(code__in=options["site"])
            missing = sorted(set(options["site"]) - {site.code for site in sites})
            if missing:
                remedy = "name a site's code"
                raise FileRefused([Fault("--site", f"{missing[0]!r} is no site", remedy)])
        now = settings.NOW or timezone.now()
        for site in sites:  # a site without its days off would be passed over without a word
            public_holidays(site, now.date(), 1)
        served = serve_waiting(now=now, sites=list(sites))
        for one in served:
            self.stdout.write(f"{one}")
        waits = Waiting.objects.filter(ended_at=None).count()
        self.stdout.write(f"{len(served)} served now, {waits} on the waiting list")
        return 0
