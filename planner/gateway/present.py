"""What pages and API take for the present."""

from __future__ import annotations

from datetime import date, datetime

from django.conf import settings
from django.utils import timezone

from sites.clock import wall
from sites.models import Site


def now() -> datetime:
    """The present instant; ``PLATEN_NOW`` holds it still, for training on a record of one day."""
    held: datetime | None = settings.NOW
    return held or timezone.now()


def today() -> date:
    """The date in UTC: for pages over many sites."""
    return now().date()


def today_at(site: Site) -> date:
    """The date on a site's wall."""
    return wall(site.timezone, now())[0]
