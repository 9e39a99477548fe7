"""A site is what its days are worked out from."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from sites.check.finding import Finding
from sites.errors import BadValue
from sites.models import Site
from sites.selectors.hours import public_holidays


def holidays_are_known() -> Iterator[Finding]:
    """Each site's country, and its part, have public holidays that are known."""
    for site in Site.objects.order_by("code"):
        try:
            public_holidays(site, date.today(), 1)
        except BadValue as error:
            yield Finding(error.value, error.problem, error.remedy)


CHECKS = (holidays_are_known,)
