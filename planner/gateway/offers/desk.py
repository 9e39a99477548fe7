"""The offers desks of this process: one a site and run of days, kept while the record agrees.

A desk answers one question at a time; a lock of its own sees to that. Booking never rests on a
desk: the record is asked again, and the database refuses what overlaps.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from threading import Lock, RLock

from planner.engine.booking.offers import OfferDesk
from planner.gateway.offers.book import SiteBook, site_book
from planner.gateway.offers.rows import site_rows
from planner.gateway.offers.stamp import Stamp, stamps
from planner.gateway.record.findings import find_prices
from planner.gateway.record.horizon import Horizon
from sites.models import Site

DAYS = 28
STRIDE = 14
"""A desk holds four weeks. A request that cannot come before next month is answered from a desk
that begins a whole number of fortnights from today, so that many requests share one."""
DRAWS = 2048
"""Runs of the day by which promises are judged; ours: a chance of 10 % is known to 0.7 %."""
MOST = 64
"""Desks that are kept, the oldest leave: a large organisation has fewer sites."""


@dataclass(slots=True)
class SiteDesk:
    """A loaded desk with the site's book; hold ``lock`` while asking."""

    site: Site
    horizon: Horizon
    book: SiteBook
    desk: OfferDesk
    stamp: Stamp
    lock: RLock = field(default_factory=RLock)


_Key = tuple[str, date]
Checked = set[_Key]
"""Desks that were compared with the record in the course of one piece of work."""
_kept: OrderedDict[_Key, SiteDesk] = OrderedDict()
_guard = Lock()


def horizon_of(today: date, first: date) -> Horizon:
    """The days of the desk that answers for ``first`` on, at least a fortnight of them."""
    strides = max(0, (first - today).days) // STRIDE
    return Horizon(today + timedelta(days=STRIDE * strides), DAYS)


def desks(
    sites: Sequence[Site], horizon: Horizon, checked: Checked | None = None
) -> list[SiteDesk]:
    """A desk for each site that says what the record says now.

    Those that are ``checked`` are taken as they are: for work that asks for many requests in a row,
    and clears the set when it books. Raises FileRefused where a site's rows cannot be planned with.
    """
    found = []
    done = set() if checked is None else checked
    anew = [site for site in sites if (site.code, horizon.first_day) not in done]
    fresh = stamps(anew, horizon) if anew else {}
    for site in sites:
        key = (site.code, horizon.first_day)
        with _guard:
            known = _kept.get(key)
        if known is None or (site.code in fresh and known.stamp != fresh[site.code]):
            if site.code not in fresh:
                fresh |= stamps([site], horizon)
            known = _load(site, horizon, fresh[site.code])
            with _guard:
                _kept[key] = known
                _kept.move_to_end(key)
                while len(_kept) > MOST:
                    _kept.popitem(last=False)
        done.add(key)
        found.append(known)
    return found


def _load(site: Site, horizon: Horizon, stamp: Stamp) -> SiteDesk:
    # The stamp was taken first: what is written between the two makes the next stamp differ.
    book = site_book(site_rows(site.code, horizon), find_prices(horizon))
    desk = OfferDesk(book.network, book.plan, draws=DRAWS)
    return SiteDesk(site, horizon, book, desk, stamp)


def forget() -> None:
    """Drop every desk, so that memory is free again."""
    with _guard:
        _kept.clear()
