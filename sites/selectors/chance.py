"""The chance that a request misses its due date, from how long requests took lately.

What is counted is the time from release to the end of the first session with a complete set;
requests without one count as not over yet (censored). The share that takes longer than a number of
days is the product-limit estimate (E. L. Kaplan, P. Meier, J. Am. Stat. Assoc. 53, 1958,
doi:10.1080/01621459.1958.10501452). A response is not waited for, and nothing is said of the room
that there is ahead: it is an estimate of the present pace, for every request the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

import numpy as np
import numpy.typing as npt
from django.core.cache import caches
from django.db.models import Exists, Min, OuterRef

from sites.models import Request, Session
from sites.models.session import SessionEnd

WINDOW = 180
"""Days back from which requests are counted; ours."""
LEAST = 30
"""With fewer sessions nothing is said; ours."""
COMPLETE = (SessionEnd.COMPLETE, SessionEnd.OVERRIDE)

Days = npt.NDArray[np.int64]
Shares = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Pace:
    """``longer[d]`` is the share of requests that take more than ``d`` days, d = 0 … `WINDOW`.

    ``sessions`` is how many were counted; with fewer than `LEAST` there is no estimate.
    """

    longer: Shares
    sessions: int

    @property
    def known(self) -> bool:
        """Whether there were enough sessions to say anything."""
        return self.sessions >= LEAST

    def after(self, days: Days) -> Shares:
        """The share that takes more than so many days, of arrays; 1 before the first day."""
        found: Shares = np.where(days < 0, 1.0, self.longer[np.clip(days, 0, WINDOW)])
        return found

    def late(self, waited: Days, left: Days) -> Shares:
        """Of requests that have waited so many days, the share that takes more than ``left`` more.

        Where nobody of the window waited that long, all that is known is that it takes longer: 1.
        """
        so_far = self.after(waited - 1)
        both = self.after(waited + left)
        found: Shares = np.divide(both, so_far, out=np.ones_like(both), where=so_far > 0)
        return np.where(left < 0, 1.0, found)


def product_limit(days: Days, over: npt.NDArray[np.bool_]) -> Shares:
    """The product-limit estimate of taking longer than d = 0 … `WINDOW` days.

    ``days`` until the end, or until counting ended where ``over`` is false. On one day ends come
    before what is cut off, as usual.
    """
    capped = np.clip(days, 0, WINDOW + 1)
    ends = np.bincount(capped[over], minlength=WINDOW + 2)[: WINDOW + 1]
    every = np.bincount(capped, minlength=WINDOW + 2)
    at_risk = every.sum() - np.concatenate(([0], np.cumsum(every)[:WINDOW]))
    kept = 1.0 - np.divide(ends, at_risk, out=np.zeros(WINDOW + 1), where=at_risk > 0)
    found: Shares = np.cumprod(kept)
    return found


def pace(*, today: date) -> Pace:
    """How long requests of the last `WINDOW` days took; kept for some minutes, else two queries."""
    cache = caches["figures"]
    key = f"pace-{today.isoformat()}"
    found: Pace | None = cache.get(key)
    if found is None:
        found = pace_now(today=today)
        cache.set(key, found)
    return found


def pace_now(*, today: date) -> Pace:
    """`pace`, counted anew."""
    first_day = today - timedelta(days=WINDOW)
    until = datetime.combine(today + timedelta(days=1), time(), UTC)
    request = "appointment__request"
    done = Session.objects.filter(ended_how__in=COMPLETE, ended_at__lt=until)
    rows = (
        done.filter(**{f"{request}__release__range": (first_day, today)})
        .order_by()
        .values_list(f"{request}_id", f"{request}__release")
        .annotate(first=Min("ended_at"))
    )
    took = [(first.date() - release).days for _, release, first in rows]
    complete = done.filter(appointment__request=OuterRef("pk"))
    waiting = Request.objects.filter(
        ~Exists(complete), closed_at__isnull=True, release__range=(first_day, today)
    )
    open_ = [(today - release).days for release in waiting.values_list("release", flat=True)]
    days = np.maximum(0, np.array(took + open_, dtype=np.int64))
    return Pace(product_limit(days, np.arange(len(days)) < len(took)), len(took))
